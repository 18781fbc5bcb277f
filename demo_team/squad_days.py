"""Who was out when, and who was in the squad of which game, as tables."""

from __future__ import annotations

import pandas as pd

from demo_team.days import COMING_GAME, GAME_DAYS, PLANS_SINCE, game_squad, spells, starters
from demo_team.roster import ROSTER

__all__ = ["games_table", "statuses_table"]


def statuses_table() -> pd.DataFrame:
    """Give what staff said of who is out, in the order of time: athlete, status, since, reason."""
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
    """Give the squads of the games since lengths are set, and of the one to come.

    Columns day, athlete, role (starts or bench).
    """
    days = [day for day in GAME_DAYS if day >= PLANS_SINCE] + [COMING_GAME]
    rows = [
        (day.isoformat(), athlete, "starts" if athlete in starters(day) else "bench")
        for day in days
        for athlete in game_squad(day)
    ]
    return pd.DataFrame(rows, columns=["day", "athlete", "role"])
