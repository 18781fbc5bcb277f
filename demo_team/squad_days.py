"""Tables of who was out when, and of who was in the squad of each game."""

from __future__ import annotations

import pandas as pd

from demo_team.days import COMING_GAME, GAME_DAYS, PLANS_SINCE, game_squad, spells, starters
from demo_team.roster import ROSTER

__all__ = ["games_table", "statuses_table"]


def statuses_table() -> pd.DataFrame:
    """Return who was out and when they were fit again, by date: athlete, status, since, reason."""
    rows = [
        (player.athlete, status, day.isoformat(), reason)
        for player in ROSTER
        for spell in spells(player.athlete)
        for status, day, reason in (
            ("out", spell.first, spell.reason),
            ("fit", spell.fit_again, ""),
        )
    ]
    table = pd.DataFrame(rows, columns=["athlete", "status", "since", "reason"])
    return table.sort_values(["since", "athlete"])


def games_table() -> pd.DataFrame:
    """Return the squads of the games since lengths were set, and of the coming game.

    Columns: day, athlete, role (starts or bench).
    """
    days = [day for day in GAME_DAYS if day >= PLANS_SINCE] + [COMING_GAME]
    rows = [
        (day.isoformat(), athlete, "starts" if athlete in starters(day) else "bench")
        for day in days
        for athlete in game_squad(day)
    ]
    return pd.DataFrame(rows, columns=["day", "athlete", "role"])
