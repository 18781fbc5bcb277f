"""What `warmcurve import` prints for each file: counts that add up, and what was set aside."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager

import pandas as pd

from dashboard.core.numbers import counted
from dashboard.core.terminal import progress_bar, say, user
from dashboard.rules.status_words import imported_warnings
from db.file.store import Store
from db.imports.effort_files import RawTable
from db.imports.past_imports import set_aside_rows
from db.imports.row_checks import unknown_athlete
from db.imports.storing import check_rows, import_efforts
from db.imports.unusable_files import UnusableFile
from db.tables.file_rows import SheetsOf
from db.tables.shown_texts import some_of

SHOWN_REASONS, SHOWN_LINES = 10, 5
ASKED = {
    "clock": (
        "Starts without a time of day, or all at midnight, are set aside. Say when they were "
        "with --at HH:MM."
    ),
    "decimal_mark": (
        "Numbers that can be read in two ways are set aside. Say which mark is the decimal one "
        "with --decimal-mark point or --decimal-mark comma."
    ),
}


def import_file(store: Store, table: RawTable, add_athletes: bool) -> int:
    """Import a file, print what came of it, and return how many rows were set aside."""
    with progress_bar() as progress:
        report = import_efforts(store, table, user(), add_athletes, progress)
    counts = report.stored, report.known, report.set_aside
    print(_counts(report.file, report.rows_read, "stored", *counts))
    tell_sheets(table.sheets)
    _tell_more(report.new_athletes, report.ignored_columns, report.asked)
    if warned := imported_warnings(store, report.batch_id):
        say(warned)
    if report.set_aside:
        tell_set_aside(set_aside_rows(store, report.batch_id))
        say("They are kept: warmcurve export set-aside FILE writes them with their reasons.")
    return report.set_aside


def check_file(store: Store, table: RawTable, add_athletes: bool) -> int:
    """Print what an import of a file would do, and return how many rows it would set aside."""
    with progress_bar() as progress:
        check = check_rows(store, table, add_athletes, progress)
    counts = len(check.new), check.known, len(check.set_aside)
    print(_counts(table.name, check.rows_read, "to store", *counts))
    tell_sheets(table.sheets)
    _tell_more(check.new_athletes, check.ignored_columns, check.asked)
    tell_set_aside(check.set_aside)
    return len(check.set_aside)


@contextmanager
def asking() -> Iterator[None]:
    """If a file is refused, say which options would settle its rows."""
    try:
        yield
    except UnusableFile as refusal:
        _tell_more((), (), refusal.asked)
        raise


def _counts(file: str, read: int, verb: str, new: int, known: int, set_aside: int) -> str:
    return f"{file}: {read} rows read = {new} {verb} + {known} known + {set_aside} set aside"


def tell_sheets(sheets: SheetsOf | None) -> None:
    """Say which sheet of several was read, and which were not."""
    if sheets is None or len(sheets.shown) + len(sheets.hidden) == 1:
        return
    others = [name for name in sheets.shown if name != sheets.read]
    hidden = [name for name in sheets.hidden if name != sheets.read]
    told = [f"The sheet {sheets.read} was read."]
    if others:
        what = "1 other was" if len(others) == 1 else f"{len(others)} others were"
        told.append(f"{what} not: {some_of(others)}. Read another with --sheet NAME.")
    if hidden:
        told.append(f"Hidden, and not read: {some_of(hidden)}.")
    say(" ".join(told))


def _tell_more(
    new_athletes: Sequence[str], ignored_columns: Sequence[str], asked: Collection[str]
) -> None:
    if new_athletes:
        say(f"New athletes: {some_of(new_athletes)}.")
    if ignored_columns:
        say(f"Columns that were not read: {some_of(ignored_columns)}.")
    for what, sentence in ASKED.items():
        if what in asked:
            say(sentence)


def tell_set_aside(rows: pd.DataFrame) -> None:
    """Say each reason once, with how many rows were set aside for it and where they are."""
    told = list(rows.groupby(_reasons(rows), sort=False)["line"])
    for reason, lines in told[:SHOWN_REASONS]:
        say(f"{counted(len(lines), 'rows')} set aside ({lines_in_words(lines)}): {reason}.")
    if len(told) > SHOWN_REASONS:
        left = sum(len(lines) for _, lines in told[SHOWN_REASONS:])
        say(f"{counted(left, 'rows')} set aside for other reasons.")


def _reasons(rows: pd.DataFrame) -> pd.Series:
    """Return the reason of each row; unknown athletes share one, which says how to add them."""
    unknown = rows["reason"] == rows["athlete"].map(unknown_athlete, na_action="ignore")
    names = list(dict.fromkeys(rows.loc[unknown, "athlete"]))
    which = f"athlete {some_of(names)} is" if len(names) == 1 else f"athletes {some_of(names)} are"
    how = "Add them with --add-athletes, or first with: warmcurve athletes FILE"
    return rows["reason"].mask(unknown, f"{which} not known. {how}")


def lines_in_words(lines: Iterable[int]) -> str:
    """Return where rows are: `line 3`, `lines 2 to 11, 15 and more`."""
    runs: list[list[int]] = []
    for line in sorted(set(map(int, lines))):
        if runs and line == runs[-1][-1] + 1:
            runs[-1].append(line)
        else:
            runs.append([line])
    shown = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    more = " and more" if len(shown) > SHOWN_LINES else ""
    word = "line" if shown == [str(runs[0][0])] else "lines"
    return f"{word} {', '.join(shown[:SHOWN_LINES])}{more}"
