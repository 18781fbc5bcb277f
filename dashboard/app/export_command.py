"""The command `warmcurve export`: results or rows as a file, or efforts for research."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.plain_commands import ending
from dashboard.core.terminal import StoreFile, say, store_at
from db.fits.export_names import WRITTEN, Written

if TYPE_CHECKING:
    from db.privacy.anonymity import Anonymity
    from db.privacy.open_package import OpenPackageReport

ALL_MEASURES = "A measure; without it, all."
TABLES, PACKAGES = (".csv", ".parquet"), (".zip",)


def _right_ending(context: typer.Context, file: Path) -> Path:
    """Refuse a file name whose ending does not suit what is written."""
    ending(*(PACKAGES if context.params.get("what") == "package" else TABLES))(file)
    return file


What = Annotated[
    Written,
    typer.Argument(metavar="WHAT", help=f"{', '.join(WRITTEN[:-1])} or {WRITTEN[-1]}."),
]
To = Annotated[
    Path,
    typer.Argument(
        metavar="FILE",
        help="Where it goes; ends in .csv or .parquet, a package in .zip.",
        callback=_right_ending,
    ),
]
OfMeasure = Annotated[str | None, typer.Option(metavar="CODE", help=ALL_MEASURES)]
Licence = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="Of a package: its licence, such as CC-BY-4.0."),
]
MoveDates = Annotated[
    bool,
    typer.Option(
        "--move-dates", help="Of a package: move each athlete's dates by days of their own."
    ),
]
WithoutPositions = Annotated[
    bool, typer.Option("--without-positions", help="Of a package: leave positions out.")
]
WithoutBirthYears = Annotated[
    bool, typer.Option("--without-birth-years", help="Of a package: leave birth years out.")
]


def export(
    what: What,
    file: To,
    measure: OfMeasure = None,
    licence: Licence = None,
    move_dates: MoveDates = False,
    without_positions: WithoutPositions = False,
    without_birth_years: WithoutBirthYears = False,
    db: StoreFile = None,
) -> None:
    """Write results or rows to a file.

    A package is all efforts for research without names: an open data package as a zip, with what
    each column means. Codes are given by lot, and it says how far positions and birth years still
    tell athletes apart.
    """
    from db.fits.exports import write_export
    from db.roster.measures import get_measure

    of_package = licence is not None or move_dates or without_positions or without_birth_years
    if of_package and what != "package":
        raise typer.BadParameter(
            "--licence, --move-dates, --without-positions and --without-birth-years are for a "
            "package."
        )
    store = store_at(db)
    if measure is not None:
        get_measure(store, measure)
    if what == "package":
        from db.privacy.open_package import write_open_package

        report = write_open_package(
            store,
            file,
            measure,
            licence,
            move_dates,
            not without_positions,
            not without_birth_years,
        )
        _tell(file, report, licence)
        return
    from dashboard.app.exports import export_rows

    frame = export_rows(store, what, measure, say)
    write_export(frame, file)
    print(f"{file}: {len(frame)} rows of {what}.")


def _tell(file: Path, report: OpenPackageReport, licence: str | None) -> None:
    from dashboard.core.numbers import counted

    print(
        f"{file}: {counted(report.athletes, 'athlete')}, {counted(report.efforts, 'effort')} of "
        f"{counted(report.measures, 'measure')}."
    )
    for each in report.anonymity:
        print(_shared_sentence(each))
    if report.positions:
        say(f"Positions: {', '.join(report.positions)}. Check that none of them names anybody.")
    if licence is None:
        say("No licence: nobody may use it without asking you. --licence names one.")
    say(
        "Whoever knows some values or days of an athlete can still find their rows: these are "
        "personal data without names, so agree with the athletes before you share them."
    )


def _shared_sentence(counted_by: Anonymity) -> str:
    """Return how many athletes share what somebody may know about them."""
    names = [column.replace("_", " ") for column in counted_by.columns]
    smallest, alone = counted_by.smallest, counted_by.alone
    return (
        f"By {' and '.join(names)}: {counted_by.groups} different among {counted_by.athletes}, the "
        f"fewest who share one are {smallest}; {alone} share theirs with nobody."
    )
