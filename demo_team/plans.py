"""What was planned for the last weeks of the season, and what came of it."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from demo_team.club import MEASURES, TRUE_ACCOUNT, USUAL
from demo_team.planted import Planted

__all__ = ["PLANS_SINCE", "plans_table", "set_volume"]

PLANS_SINCE = date(2026, 11, 2)
"""Until then everybody did the standard; from then on every second athlete does their own."""

MOST_SET = 40.0
"""Nobody sets more than this before a session."""

COLUMNS = (
    "day athlete measure goal efforts_to_follow advised_volume standard_volume chosen_volume "
    "reason done_volume outcome"
).split()


def set_volume(measure: str, number: int, plan: Planted, day: date) -> float:
    """Volume that is set for the athlete with a number on a day: the standard or their own."""
    standard = MEASURES[measure].standard_volume
    if day < PLANS_SINCE or number % 2:
        return standard
    return min(_own_volume(plan), MOST_SET)


def _own_volume(plan: Planted) -> float:
    return float(np.round(TRUE_ACCOUNT.volume_to_do(np.array([plan.best_volume]), USUAL)[0]))


def plans_table(efforts: pd.DataFrame, plans: dict[str, Planted]) -> pd.DataFrame:
    """Give the plan of each routine session of the last weeks with what was done.

    Parameters
    ----------
    efforts : DataFrame
        Of one measure, as written: text columns of the efforts file, before any mistake.
    plans : dict of Planted
        By athlete.
    """
    first = efforts[(efforts["kind"] == "routine") & (efforts["effort"] == "1")]
    first = first[first["started_at"] >= PLANS_SINCE.isoformat()]
    planned, advised = first["planned_volume"], first["athlete"].map(plans).map(_own_volume)
    standard = first["measure"].map(lambda code: MEASURES[code].standard_volume)
    capped = (planned.astype(float) != standard) & (advised > MOST_SET)
    kept_standard = (planned.astype(float) == standard) & (advised != standard)
    return pd.DataFrame(
        {
            "day": first["started_at"].str[:10],
            "athlete": first["athlete"],
            "measure": first["measure"],
            "goal": "best",
            "efforts_to_follow": "1",
            "advised_volume": advised.map("{:.0f}".format),
            "standard_volume": standard.map("{:.0f}".format),
            "chosen_volume": planned,
            "reason": np.select(
                [capped, kept_standard], ["no more than 40 before a session", "with the others"], ""
            ),
            "done_volume": first["volume_before"],
            "outcome": first["value"],
        },
        columns=COLUMNS,
    ).sort_values(["day", "athlete"])
