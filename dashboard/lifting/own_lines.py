"""An athlete's own load-velocity line of a lift, and the maximum that a plan goes by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from dashboard.lifting.plates import from_kg
from db.plans.planned_exercises import PlannedExercise
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.lifting.load_velocity import (
    FALLBACK_SPEED,
    MINIMUM_SPEEDS,
    LoadVelocityLine,
    MinimumSpeed,
    fit_line,
)
from modeling.lifting.one_repetition_max import from_repetitions
from modeling.lifting.working_sets import STRENGTH_SHARE

MINIMUM_SPEED_OF = {
    "back_squat": MINIMUM_SPEEDS["free-weight full squat"],
    "bench_press": MINIMUM_SPEEDS["bench press"],
}
"""For lifts with a study of their own; for others there is a rule of thumb."""


@dataclass(frozen=True)
class Maximum:
    """A one-repetition maximum in the unit of the plan, and where it comes from.

    `source` is `given`, `set` (from a set of more repetitions; low and high are two formulas)
    or `line` (low and high are the 90 % interval). Plans go by `value`.
    """

    value: float
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class OwnLine:
    """An athlete's load-velocity line, loads in the unit of the plan.

    Attributes
    ----------
    line : LoadVelocityLine
    day : date
        The day whose level the line has: the day of the newest sets.
    minimum : MinimumSpeed
        Bar speed at the maximum, from a study or common practice.
    maximum, work_from : Estimate
        One-repetition maximum, and 70 % of it.
    work_speed : float
        Speed at 70 %, in m/s.
    speed_kind : str
        Which speed the line is for: one of `db.plans.lifted_sets.SPEED_KINDS`.
    """

    line: LoadVelocityLine
    day: date
    minimum: MinimumSpeed
    maximum: Estimate
    work_from: Estimate
    work_speed: float
    speed_kind: str


def own_line_of(sets: pd.DataFrame, exercise: str, unit: str, remarks: list[str]) -> OwnLine | None:
    """Return an athlete's line of a lift, from sets with the newest set's kind of speed and bar.

    Parameters
    ----------
    sets
        As `db.plans.lifted_sets` lists them.
    exercise, unit
        Code of the lift, and the unit of the line's loads.
    remarks
        Gets the reason why there is no line, or how many sets it leaves out.
    """
    if sets.empty:
        return None
    newest = sets.iloc[-1]
    if newest["speed_kind"] == "peak":
        remarks.append(
            "No line from peak speeds: how fast the bar is at the maximum is known of mean speeds."
        )
        return None
    alike = (sets["speed_kind"] == newest["speed_kind"]) & (
        (sets["bar"] == newest["bar"]) | (sets["bar"].isna() & pd.isna(newest["bar"]))
    )
    if not alike.all():
        remarks.append(
            "Sets of another speed or bar than the newest are left out of the line:"
            f" {int((~alike).sum())}."
        )
    sets = sets[alike]
    minimum = MINIMUM_SPEED_OF.get(exercise, FALLBACK_SPEED)
    loads = [from_kg(load, unit) for load in sets["load_kg"]]
    days = [moment.date() for moment in pd.to_datetime(sets["lifted_on"])]
    try:
        line = fit_line(loads, sets["bar_speed_m_s"], days)
        return OwnLine(
            line,
            days[-1],
            minimum,
            line.one_repetition_max(minimum),
            line.load_at_share(STRENGTH_SHARE, minimum),
            line.speed_at_share(STRENGTH_SHARE, minimum),
            str(newest["speed_kind"]),
        )
    except ModelError as error:
        remarks.append(f"No line from the sets with bar speed yet. {error}")
        return None


def maximum_of(planned: PlannedExercise, own_line: OwnLine | None) -> Maximum | None:
    """Return the maximum: as given, else from a hard set, else from the line; None without any."""
    if (given := planned.one_repetition_max) is not None:
        return Maximum(given, given, given, "given")
    if planned.tested_load is not None and planned.tested_repetitions is not None:
        found = from_repetitions(planned.tested_load, planned.tested_repetitions)
        return Maximum(found.low, found.low, found.high, "set")
    if own_line is not None:
        by_line = own_line.maximum
        return Maximum(by_line.median, by_line.low, by_line.high, "line")
    return None
