"""The command `warmcurve overview`: what many clubs' exports say together, on one page."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.plain_commands import ending
from dashboard.core.terminal import say

if TYPE_CHECKING:
    from db.fits.overviews import ClubMeasure

TEMPLATE = Path(__file__).parents[1] / "assets" / "overview.html"

SMALL, FIRM_SHARE = 8, 0.5
"""With fewer athletes than this, a club cannot tell on its own what is usual among them. With a
smaller share of firm calls than this, it is told to test (common practice, no source)."""

WIDEST_BAR_PCT = 100.0


def overview(
    folders: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...",
            help="One for each club, named after it, with its exports: responses, and squad and"
            " efforts if they are to be told of; Parquet or CSV.",
        ),
    ],
    out: Annotated[
        Path,
        typer.Option(metavar="FILE.html", help="Where it goes.", callback=ending(".html")),
    ],
    days: Annotated[
        int, typer.Option(metavar="N", min=1, help="How long a test counts as a new one.")
    ] = 60,
) -> None:
    """Write one page of many clubs.

    It has counts, spreads, worth, tests done and who needs help. Names and codes of athletes are
    not on it. A folder that cannot be read is named and left out.
    """
    from jinja2 import Template

    from dashboard.core.numbers import counted
    from db.errors import BadInput
    from db.fits.overviews import club_measures

    found: list[ClubMeasure] = []
    for folder in folders:
        try:
            found += club_measures(folder, date.today() - timedelta(days=days))
        except BadInput as error:
            say(error.message)
    if not found:
        raise typer.Exit(1)
    by_measure: dict[str, list[ClubMeasure]] = {}
    for each in found:
        by_measure.setdefault(each.measure, []).append(each)
    parts = [_part(measure, clubs, days) for measure, clubs in by_measure.items()]
    page = Template(TEMPLATE.read_text("utf-8"), autoescape=True, trim_blocks=True)
    out.write_text(page.render(parts=parts, day=f"{date.today():%d %B %Y}"), "utf-8")
    say(f"Wrote {out}: {counted(len({each.club for each in found}), 'clubs')}.")


def _part(measure: str, clubs: list[ClubMeasure], days: int) -> dict[str, object]:
    """Return a measure's part of the page, the clubs that need most help first."""
    from dashboard.core.numbers import counted, whole, with_interval

    wanted = {each.club: wants(each, days) for each in clubs}
    most = max((each.worth[0] for each in clubs if each.worth), default=0.0)
    clubs = sorted(clubs, key=lambda each: (-len(wanted[each.club]), each.club.casefold()))
    helped = sum(bool(each) for each in wanted.values())
    return {
        "title": measure.replace("_", " ").capitalize(),
        "told": f"{counted(len(clubs), 'clubs')},"
        f" {counted(sum(each.athletes for each in clubs), 'athletes')},"
        f" {counted(sum(each.efforts for each in clubs), 'efforts')};"
        f" {whole(helped)} would gain by help.",
        "clubs": [
            {
                "name": each.club,
                "athletes": whole(each.athletes),
                "firm": whole(each.firm),
                "tests": "\u2013" if each.tests is None else whole(each.tests),
                "newest": "\u2013" if each.newest is None else f"{each.newest:%d %b %Y}",
                "worth": "\u2013" if each.worth is None else f"{with_interval(*each.worth, 1)} %",
                "bar": 0.0
                if each.worth is None or most <= 0
                else WIDEST_BAR_PCT * max(each.worth[0], 0.0) / most,
                "spread": "\u2013" if each.spread is None else with_interval(*each.spread, 2),
                "wants": wanted[each.club],
            }
            for each in clubs
        ],
        "days": days,
    }


def wants(club: ClubMeasure, days: int) -> list[str]:
    """Return in words what would help a club with a measure."""
    from dashboard.core.numbers import percent

    found = []
    if not club.athletes:
        found.append("nobody has efforts yet")
    elif club.firm < FIRM_SHARE * club.athletes:
        open_share = percent(100.0 * (1.0 - club.firm / club.athletes), 0)
        found.append(f"{open_share} have no firm call: test them")
    if club.tests == 0:
        found.append(f"no fade test in {days} days")
    if 0 < club.athletes < SMALL:
        found.append("few athletes: begin with what other clubs learned")
    return found
