"""A session plan worked out: for each exercise its own warm-up, ramp sets, maximum and line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import pandas as pd

from dashboard.kept_curves import kept_draws
from dashboard.numbers import Row
from dashboard.plates import barbell_of, from_kg
from db.errors import BadInput
from db.exercises import BETWEEN_JOINTS, list_exercises
from db.lifted_sets import lifted_sets
from db.measures import Measure, get_measure
from db.session_plans import PlannedExercise, SessionPlan, get_session_plan, planned_exercises
from db.store import Store
from modeling.barbell import Barbell, BarLoad
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.general_part import GeneralPart, general_part
from modeling.goal_advice import Advice, ToFollow, advise
from modeling.last_sets import LastSets, last_sets
from modeling.load_velocity import (
    FALLBACK_SPEED,
    MINIMUM_SPEEDS,
    LoadVelocityLine,
    MinimumSpeed,
    fit_line,
)
from modeling.one_repetition_max import from_repetitions
from modeling.ramp_sets import HEAVY_SHARE, WORK_SHARE, RampSet, ramp_sets
from modeling.session_order import OrderedExercise, OwnWarmUp, order_remarks, own_warm_ups

MINIMUM_SPEED_OF = {
    "back_squat": MINIMUM_SPEEDS["free-weight full squat"],
    "bench_press": MINIMUM_SPEEDS["bench press"],
}
"""Where a study is of the lift itself; for others there is a rule of thumb."""


@dataclass(frozen=True)
class Maximum:
    """A one-repetition maximum in the unit of the plan, and where it comes from.

    `source` is `given`, `set` (from a set of more repetitions; low and high are two formulas)
    or `line` (low and high are the 90 % interval). What is planned goes by `value`.
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
        The day whose level it has: that of the newest sets.
    minimum : MinimumSpeed
        Speed of the bar at the maximum, as a study or common practice has it.
    maximum, work_from : Estimate
        One-repetition maximum, and 70 % of it.
    work_speed : float
        Speed at 70 %, in m/s.
    """

    line: LoadVelocityLine
    day: date
    minimum: MinimumSpeed
    maximum: Estimate
    work_from: Estimate
    work_speed: float


@dataclass(frozen=True)
class ExercisePart:
    """One exercise of a plan, worked out.

    Attributes
    ----------
    planned : PlannedExercise
    name : str
    own : OwnWarmUp
    ramp : tuple of RampSet
        Warm-up sets; empty without a load.
    working : BarLoad or None
        The working load as the plates make it; None without a load.
    maximum : Maximum or None
    own_line : OwnLine or None
    sets : DataFrame
        The athlete's own sets (see `db.lifted_sets`); empty where the plan is for nobody.
    remarks : tuple of str
        What cannot be worked out, or is unusual, and why.
    """

    planned: PlannedExercise
    name: str
    own: OwnWarmUp
    ramp: tuple[RampSet, ...]
    working: BarLoad | None
    maximum: Maximum | None
    own_line: OwnLine | None
    sets: pd.DataFrame
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class SessionParts:
    """A plan worked out.

    Attributes
    ----------
    plan : SessionPlan
    parts : tuple of ExercisePart
    remarks : tuple of str
        About order and numbers of sets.
    general : GeneralPart or None
        None where no minutes are planned.
    measure : Measure or None
        Of the curve.
    advice : Advice or None
        What the curve advises before the first exercise's work.
    last : LastSets or None
        What the warm-up leaves for the last growth sets; each set counts as one effort.
    """

    plan: SessionPlan
    parts: tuple[ExercisePart, ...]
    remarks: tuple[str, ...]
    general: GeneralPart | None
    measure: Measure | None
    advice: Advice | None
    last: LastSets | None


def session_parts(store: Store, number: int) -> SessionParts:
    """Work a kept plan out.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    plan, planned = get_session_plan(store, number), planned_exercises(store, number)
    library = {row["exercise"]: row for row in list_exercises(store).to_dict("records")}
    ordered = [_ordered(each, library[each.exercise]) for each in planned]
    parts = tuple(
        _part(store, plan, each, of_order.name, own)
        for each, of_order, own in zip(planned, ordered, own_warm_ups(ordered), strict=True)
    )
    measure = None if plan.measure is None else get_measure(store, plan.measure)
    advice, last = _by_curve(store, plan, parts)
    joints = frozenset().union(*(each.joints for each in ordered))
    general = None
    if plan.general_minutes > 0:
        general = general_part(
            plan.general_minutes,
            joints,
            plan.stiff,
            plan.static_hold_s,
            any(each.goal != "growth" for each in planned),
        )
    return SessionParts(plan, parts, tuple(order_remarks(ordered)), general, measure, advice, last)


def _ordered(planned: PlannedExercise, known: Row) -> OrderedExercise:
    return OrderedExercise(
        name=known["name"],
        joints=frozenset(known["joints"].split(BETWEEN_JOINTS)),
        complexity=int(known["complexity"]),
        kind=known["kind"],
        goal=planned.goal,
        being_learned=planned.being_learned,
        working_sets=planned.working_sets,
    )


def _part(
    store: Store, plan: SessionPlan, planned: PlannedExercise, name: str, own: OwnWarmUp
) -> ExercisePart:
    remarks: list[str] = []
    sets = (
        pd.DataFrame()
        if plan.athlete is None
        else lifted_sets(store, plan.athlete, planned.exercise, plan.day)
    )
    own_line = _own_line(sets, planned.exercise, plan.load_unit, remarks)
    maximum = _maximum(planned, own_line)
    working, ramp = _loads(plan, planned, own, maximum, remarks)
    return ExercisePart(planned, name, own, ramp, working, maximum, own_line, sets, tuple(remarks))


def _own_line(sets: pd.DataFrame, exercise: str, unit: str, remarks: list[str]) -> OwnLine | None:
    if sets.empty:
        return None
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
            line.load_at_share(WORK_SHARE, minimum),
            line.speed_at_share(WORK_SHARE, minimum),
        )
    except ModelError as error:
        remarks.append(f"No line from the sets with bar speed yet. {error}")
        return None


def _maximum(planned: PlannedExercise, own_line: OwnLine | None) -> Maximum | None:
    if (given := planned.one_repetition_max) is not None:
        return Maximum(given, given, given, "given")
    if planned.tested_load is not None and planned.tested_repetitions is not None:
        found = from_repetitions(planned.tested_load, planned.tested_repetitions)
        return Maximum(found.low, found.low, found.high, "set")
    if own_line is not None:
        by_line = own_line.maximum
        return Maximum(by_line.median, by_line.low, by_line.high, "line")
    return None


def _loads(
    plan: SessionPlan,
    planned: PlannedExercise,
    own: OwnWarmUp,
    maximum: Maximum | None,
    remarks: list[str],
) -> tuple[BarLoad | None, tuple[RampSet, ...]]:
    """Return the working load as the plates make it, and the sets on the way to it."""
    if planned.load is None:
        return None, ()
    how, most = own.how, None if maximum is None else maximum.value
    if how == "none" and most is not None and planned.load >= HEAVY_SHARE * most:
        how = "step"
        remarks.append(
            f"At {100 * planned.load / most:.0f}\u00a0% of the maximum one set on the way stands"
            " here, though it needs no warm-up of its own (common practice, no source)."
        )
    try:
        barbell = _barbell(plan) if planned.on_bar else None
        working = barbell.nearest(planned.load) if barbell else BarLoad(planned.load, ())
        return working, ramp_sets(planned.load, planned.repetitions, most, barbell, how)
    except (ModelError, BadInput) as error:
        remarks.append(str(error))
        return BarLoad(planned.load, ()), ()


def _barbell(plan: SessionPlan) -> Barbell:
    return barbell_of(plan.bar_load, plan.plates)


def _by_curve(
    store: Store, plan: SessionPlan, parts: Sequence[ExercisePart]
) -> tuple[Advice | None, LastSets | None]:
    if plan.measure is None or plan.athlete is None or not parts:
        return None, None
    curve = kept_draws(store, plan.measure, plan.athlete).get(plan.athlete)
    if curve is None:
        return None, None
    around = replace(curve.usual, general_minutes=plan.general_minutes)
    first = parts[0].planned
    growth = first.goal == "growth"
    to_follow = ToFollow("growth", first.working_sets) if growth else ToFollow()
    growing = [place for place, part in enumerate(parts) if part.planned.goal == "growth"]
    last = None
    if growing:
        until = parts[: growing[-1] + 1]
        warm_up = sum(len(part.ramp) for part in until)
        last = last_sets(curve, warm_up, sum(p.planned.working_sets for p in until), around)
    return advise(curve, to_follow, around), last
