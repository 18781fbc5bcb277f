"""The commands `warmcurve import` and `warmcurve athletes`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.terminal import StoreFile, progress_bar, store_at, user

if TYPE_CHECKING:
    from db.file.store import Store

SOME_SET_ASIDE = 3
"""Exit status."""

SheetName = Annotated[
    str,
    typer.Option(
        metavar="NAME", help="The sheet of a workbook; without it, the first that is not hidden."
    ),
]


def import_files(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="CSV, Parquet or Excel.")],
    add_athletes: Annotated[
        bool,
        typer.Option("--add-athletes", help="Add athletes that are not known yet, by their code."),
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only say what would be stored.")
    ] = False,
    mapping: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="A saved mapping, for other columns and units."),
    ] = None,
    sheet: SheetName = "",
    at: Annotated[
        str,
        typer.Option(metavar="HH:MM", help="Time of day of the rows that have only a date."),
    ] = "",
    decimal_mark: Annotated[
        str,
        typer.Option(metavar="point|comma", help="The decimal mark, where nothing shows it."),
    ] = "",
    guess: Annotated[
        bool,
        typer.Option("--guess", help="Find out what the columns mean, and ask what is not shown."),
    ] = False,
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=VALUE", help="With --guess, the answer to a question."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="With --guess, print the reading as JSON.")
    ] = False,
    db: StoreFile = None,
) -> None:
    """Store efforts from files.

    Makes the store if there is none. Exit status 3: some rows were set aside. With --guess any
    table is read, of a workbook every sheet, and the reading is remembered for files of the same
    header; exit status 1: something is asked.
    """
    from dashboard.data.import_report import asking, check_file, import_file
    from db.imports.kept_mappings import read_efforts

    with TemporaryDirectory() as empty:
        store = store_at(db)
        if dry_run and not store.exists():
            store = store_at(Path(empty) / "empty.duckdb")
        store.create()
        if guess:
            _guessed(
                store, files, sheet, _answers(answer or (), at, decimal_mark), dry_run, as_json
            )
            return
        take = check_file if dry_run else import_file
        read = partial(
            read_efforts, store, mapping=mapping, sheet=sheet, clock=at, decimal_mark=decimal_mark
        )
        set_aside = 0
        for file in files:
            with asking():
                with progress_bar() as progress:
                    table = read(file, progress=progress)
                set_aside += take(store, table, add_athletes)
    if set_aside:
        raise typer.Exit(SOME_SET_ASIDE)


def _answers(said: Sequence[str], at: str, decimal_mark: str) -> dict[str, str]:
    from dashboard.data.guess_report import answers_of

    stated = {"clock": at, "decimal_mark": decimal_mark}
    return {key: value for key, value in stated.items() if value} | answers_of(said)


def _guessed(
    store: Store,
    files: Sequence[Path],
    sheet: str,
    answers: Mapping[str, str],
    dry_run: bool,
    as_json: bool,
) -> None:
    from dashboard.data.guess_report import import_guessed, tables_of

    read, set_aside = True, 0
    for file in files:
        for laid in tables_of(file, sheet):
            settled, aside = import_guessed(store, laid, answers, dry_run, as_json)
            read, set_aside = read and settled, set_aside + aside
    if not read:
        raise typer.Exit(1)
    if set_aside:
        raise typer.Exit(SOME_SET_ASIDE)


def athletes(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE",
            help="CSV, Parquet or Excel with athlete, name, position, born, active, squad.",
        ),
    ],
    sheet: SheetName = "",
    db: StoreFile = None,
) -> None:
    """Add or update athletes from a file.

    Makes the store if there is none.
    """
    from dashboard.data.import_report import tell_sheets
    from dashboard.data.words import left_unread
    from db.roster.athletes import save_athletes
    from db.tables.keyed_rows import whole_rows
    from db.tables.text_tables import read_text_table

    store = store_at(db)
    table = read_text_table(file, sheet=sheet)
    frame = whole_rows(table)
    store.create()
    saved = save_athletes(store, frame, user())
    tell_sheets(table.sheets)
    counts = f"{saved.added} added, {saved.updated} updated, {saved.unchanged} unchanged."
    print(f"{file}: {counts}{left_unread(frame.columns)}")
