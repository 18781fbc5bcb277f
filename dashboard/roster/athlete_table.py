"""Athletes as people read them: a table, names, counts."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from dashboard.core.numbers import counted
from db.roster.athlete_changes import Athlete

HERE, LEFT = "in the squad", "has left"


def athlete_table(athletes: Sequence[Athlete]) -> pd.DataFrame:
    """Return a row per athlete, those who are in the squad first."""
    return pd.DataFrame(
        [
            {
                "name": each.name,
                "position": each.position or "",
                "squads": ", ".join(each.squads),
                "is": HERE if each.active else LEFT,
                "born": each.born,
                "code in files": each.athlete,
            }
            for each in sorted(athletes, key=lambda each: not each.active)
        ]
    )


def counts_sentence(athletes: Sequence[Athlete]) -> str:
    """Return how many there are, and in how many squads."""
    here = [each for each in athletes if each.active]
    squads = {squad for each in here for squad in each.squads}
    left = len(athletes) - len(here)
    told = counted(len(here), "athlete")
    told += f" in {counted(len(squads), 'squad')}" if squads else ", in no named squad"
    return told + (f"; {left} more {'has' if left == 1 else 'have'} left." if left else ".")


def labels(athletes: Sequence[Athlete]) -> dict[str, str]:
    """Return names by code, adding the code for namesakes and marking those who have left."""
    names = [each.name for each in athletes]
    return {
        each.athlete: each.name
        + (f" ({each.athlete})" if names.count(each.name) > 1 else "")
        + ("" if each.active else f", {LEFT}")
        for each in athletes
    }


def squads_of(athletes: Sequence[Athlete]) -> list[str]:
    """Return the squads that athletes are in, by name."""
    return sorted({squad for each in athletes for squad in each.squads})


def positions_of(athletes: Sequence[Athlete]) -> list[str]:
    """Return the positions that athletes have, by name."""
    return sorted({each.position for each in athletes if each.position})
