"""The command `warmcurve sheet`: a game's sheet, calendars and table from the command line."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.plain_commands import ending, folder_name, known_day
from dashboard.core.terminal import StoreFile, say, store_at

if TYPE_CHECKING:
    from db.file.store import Store
    from db.plans.kept_games import KeptGame


def sheet(
    date: Annotated[
        datetime,
        typer.Option(
            metavar="YYYY-MM-DD", formats=["%Y-%m-%d"], help="Day of the game.", callback=known_day
        ),
    ],
    start: Annotated[
        datetime, typer.Option(metavar="HH:MM", formats=["%H:%M"], help="When the game starts.")
    ],
    measure: Annotated[str, typer.Option(metavar="CODE", help="The measure that leads.")],
    out: Annotated[
        Path,
        typer.Option(metavar="FILE.pdf", help="Where the sheet goes.", callback=ending(".pdf")),
    ],
    ics: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Where everybody's calendar and the staff's go.",
            callback=folder_name,
        ),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv", help="Where a row for each athlete goes.", callback=ending(".csv")
        ),
    ] = None,
    db: StoreFile = None,
) -> None:
    """Write the sheet of a game.

    A plan that is kept for that start is written as it is; else the active squad is planned for
    a game's opening work, and nothing is kept.
    """
    from dashboard.game.files import files_of

    store = store_at(db)
    with store.reading():
        games = _games(store, datetime.combine(date, start.time()), measure)
        files = files_of(store, games)
        written = {out: files.pdf()}
        if csv is not None:
            written[csv] = files.csv()
        if ics is not None:
            ics.mkdir(parents=True, exist_ok=True)
            written |= {ics / name: each for name, each in files.calendar_files().items()}
    for path, content in written.items():
        path.write_bytes(content)
    print(f"{out}: {len(files.athletes())} athletes, start {start:%H:%M}.")


def _games(store: Store, starts_at: datetime, measure: str) -> list[KeptGame]:
    """Return the saved games with that start, else one planned for the active squad."""
    from dashboard.rules import goals
    from db.plans.kept_games import kept_games

    kept = kept_games(store, starts_at.date(), measure)
    mine = [each for each in kept if starts_at in each.game.starts]
    if mine:
        say("As it is kept.")
        return mine
    planned = _planned(store, starts_at, measure)
    goal = goals.goal(planned.game.efforts_to_follow)
    say(f"No plan is kept for that start: the active squad, planned for {goal}.")
    return [planned]


def _planned(store: Store, starts_at: datetime, measure: str) -> KeptGame:
    from dashboard.fits.kept_curves import kept_draws
    from dashboard.game.advice import Occasion, plan_game, usual_game
    from dashboard.rules.game_work import game_work
    from dashboard.rules.protocol_words import pace_minutes
    from dashboard.rules.standing import blocked_codes
    from db.errors import BadInput
    from db.fits.results import latest_fit
    from db.plans.kept_games import KeptGame
    from db.plans.start_words import start_word
    from db.roster.athletes import list_athletes
    from db.roster.measures import get_measure
    from db.roster.protocols import protocol_of

    name = get_measure(store, measure).name.lower()
    fit, curves = latest_fit(store, measure), kept_draws(store, measure)
    if fit is None or not curves:
        raise BadInput(
            f"The curves of {name} have not been worked out. Run: warmcurve fit --measure {measure}"
        )
    blocked = blocked_codes(store)
    active = list_athletes(store, active_only=True)["athlete"]
    here = [code for code in active if code not in blocked]
    work = game_work(store, get_measure(store, measure))
    pace = pace_minutes(protocol_of(store, get_measure(store, measure)))
    game = usual_game(
        measure, starts_at.date(), (starts_at,), curves, work, pace, start_word(store)
    )
    planned = plan_game(store, Occasion(game, tuple((code, 1) for code in here)), curves)
    return KeptGame(0, fit.fitted_at, "", planned.game)
