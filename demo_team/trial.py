"""A finished trial of two lengths with one athlete, in an order drawn by lot."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from demo_team.club import MEASURES
from modeling.trial.paired_trial import draw_order

__all__ = ["ATHLETE", "MEASURE", "trial_table", "trial_volumes"]

ATHLETE, MEASURE = "H01", "jump_height"
SHORT = 7.0
"""What was thought to be the athlete's own length; the trial compares it with the standard."""
ORDER_SEED = 20261013
DAYS = [
    date(2026, 10, 13) + timedelta(days=7 * week + more) for week in range(6) for more in (0, 2)
]
COLUMNS = (
    "athlete measure day first_volume second_volume seed is_second done_volume outcome".split()
)


def trial_volumes() -> dict[date, float]:
    """Return the length that was drawn for each day of the trial."""
    lengths = (MEASURES[MEASURE].standard_volume, SHORT)
    order = draw_order(len(DAYS) // 2, ORDER_SEED)
    return {day: lengths[second] for day, second in zip(DAYS, order, strict=True)}


def trial_table(efforts: pd.DataFrame) -> pd.DataFrame:
    """Return the sessions of the trial, with what was done and the start value that followed.

    Parameters
    ----------
    efforts : DataFrame
        Of the measure: the efforts file as text columns, before any mistake is put in.
    """
    first = efforts[(efforts["athlete"] == ATHLETE) & (efforts["effort"] == "1")]
    first = first.assign(day=first["started_at"].str[:10]).set_index("day")
    volumes = trial_volumes()
    days = [day.isoformat() for day in volumes]
    own = first.loc[days]
    return pd.DataFrame(
        {
            "athlete": ATHLETE,
            "measure": MEASURE,
            "day": days,
            "first_volume": f"{MEASURES[MEASURE].standard_volume:.0f}",
            "second_volume": f"{SHORT:.0f}",
            "seed": str(ORDER_SEED),
            "is_second": ["yes" if each == SHORT else "no" for each in volumes.values()],
            "done_volume": own["volume_before"].to_numpy(),
            "outcome": own["value"].to_numpy(),
        },
        columns=COLUMNS,
    )
