"""The command `warmcurve status`: who is fit, modified or out, and changing it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

import typer

from dashboard.core.terminal import StoreFile, store_at, user
from db.errors import BadInput


def status(
    athlete: Annotated[str | None, typer.Argument(metavar="CODE", help="The athlete.")] = None,
    now: Annotated[
        Literal["fit", "modified", "out"] | None,
        typer.Argument(metavar="fit|modified|out", help="How the athlete is."),
    ] = None,
    since: Annotated[
        datetime | None,
        typer.Option(metavar="DATE", formats=["%Y-%m-%d"], help="Since when; without it, today."),
    ] = None,
    reason: Annotated[
        str, typer.Option(metavar="WORDS", help="A few words for staff; modified needs them.")
    ] = "",
    db: StoreFile = None,
) -> None:
    """Say how an athlete is, or list who is not fit.

    Who is out, or had pain that nobody has lifted, is neither tested nor advised.
    """
    from dashboard.rules.status_words import standing_sentence
    from db.roster.statuses import set_status, standings, status_history

    store = store_at(db)
    if athlete is not None and now is not None:
        day = datetime.now() if since is None else since
        set_status(store, athlete, now, day.date(), reason, user())
    elif since is not None or reason:
        raise typer.BadParameter("Say of whom and how: warmcurve status CODE fit|modified|out.")
    rows = standings(store)
    if athlete is not None and athlete not in set(rows["athlete"]):
        raise BadInput(f"There is no athlete '{athlete}'. Codes stand in the athletes file.")
    shown = rows[rows["athlete"] == athlete] if athlete is not None else rows
    told = [standing_sentence(row) for row in shown.to_dict("records")]
    for sentence in filter(None, told):
        print(sentence)
    if not any(told):
        print("Nobody is out or modified." if athlete is None else f"{athlete}: fit.")
    if athlete is not None:
        for row in status_history(store, athlete).to_dict("records"):
            said = f"{row['since']:%Y-%m-%d} {row['status']} {row['reason']}".rstrip()
            print(f"{said}, said by {row['person']}")
