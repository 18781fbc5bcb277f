"""A session plan worked out: for each exercise its own warm-up, ramp sets, maximum and line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from dashboard.core.numbers import Row
from dashboard.fits.kept_curves import kept_draws
from dashboard.lifting.own_lines import Maximum, OwnLine, maximum_of, own_line_of
from dashboard.lifting.plates import barbell_of
from db.errors import BadInput
from db.file.store import Store
from db.plans.exercises import BETWEEN_JOINTS, list_exercises
from db.plans.lifted_sets import lifted_sets
from db.plans.planned_exercises import PlannedExercise, planned_exercises
from db.plans.session_plans import SessionPlan, get_session_plan
from db.roster.measures import Measure, get_measure, kind_of_effort
from modeling.day.goal_advice import Advice, ToFollow, advise
from modeling.errors import ModelError
from modeling.lifting.barbell import Barbell, BarLoad
from modeling.lifting.general_part import GeneralPart, general_part
from modeling.lifting.ramp_sets import RampSet, ramp_sets
from modeling.lifting.session_order import OrderedExercise, OwnWarmUp, order_remarks, own_warm_ups
from modeling.lifting.working_sets import WorkingLoads, working_loads

EXPLOSIVE_KINDS = ("jump", "throw", "sprint")
"""Kinds of movement done at full speed, without a load to build up."""


@dataclass(frozen=True)
class ExercisePart:
    """One exercise of a plan, worked out.

    Attributes
    ----------
    planned : PlannedExercise
    name : str
    kind : str
        Kind of movement.
    own : OwnWarmUp
    ramp : tuple of RampSet
        Build-up sets; empty without a load.
    working : BarLoad or None
        The working load that the plates can make; None without a load.
    maximum : Maximum or None
    counting : WorkingLoads or None
        Loads at which a set counts as work; None if they are not known yet or don't matter.
    own_line : OwnLine or None
    sets : DataFrame
        The athlete's own sets (see `db.plans.lifted_sets`); empty if the plan names no athlete.
    remarks : tuple of str
        What cannot be worked out, or is unusual, and why.
    """

    planned: PlannedExercise
    name: str
    kind: str
    own: OwnWarmUp
    ramp: tuple[RampSet, ...]
    working: BarLoad | None
    maximum: Maximum | None
    counting: WorkingLoads | None
    own_line: OwnLine | None
    sets: pd.DataFrame
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class SessionParts:
    """A session plan, worked out.

    Attributes
    ----------
    plan : SessionPlan
    parts : tuple of ExercisePart
    remarks : tuple of str
        About order and numbers of sets.
    general : GeneralPart or None
        None if no minutes are planned.
    measure : Measure or None
        Measure of the curve to go by.
    spoken_for : str
        The first exercise of the curve's kind of effort; empty if there is none.
    advice : Advice or None
        What the curve advises before the work of that exercise; None if there is no such exercise
        or no curve.
    """

    plan: SessionPlan
    parts: tuple[ExercisePart, ...]
    remarks: tuple[str, ...]
    general: GeneralPart | None
    measure: Measure | None
    spoken_for: str
    advice: Advice | None


def session_parts(store: Store, number: int) -> SessionParts:
    """Work out a saved plan.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    plan, planned = get_session_plan(store, number), planned_exercises(store, number)
    library = {row["exercise"]: row for row in list_exercises(store).to_dict("records")}
    lifts = [_lift(store, plan, each) for each in planned]
    ordered = [_ordered(lift, library[lift.planned.exercise]) for lift in lifts]
    parts = tuple(
        _part(plan, lift, of_order, own)
        for lift, of_order, own in zip(lifts, ordered, own_warm_ups(ordered), strict=True)
    )
    measure = None if plan.measure is None else get_measure(store, plan.measure)
    spoken_for, advice = _by_curve(store, plan, measure, parts)
    joints = frozenset().union(*(each.joints for each in ordered))
    general = None
    if plan.general_minutes > 0:
        general = general_part(
            plan.general_minutes,
            joints,
            plan.stiff,
            plan.static_hold_s,
            any(each.goal != "growth" for each in planned),
            "game" if ordered and ordered[0].kind in EXPLOSIVE_KINDS else "lifting",
        )
    remarks = tuple(order_remarks(ordered))
    return SessionParts(plan, parts, remarks, general, measure, spoken_for, advice)


@dataclass(frozen=True)
class _Lift:
    """A planned exercise with what the athlete's own sets say about it."""

    planned: PlannedExercise
    sets: pd.DataFrame
    own_line: OwnLine | None
    maximum: Maximum | None
    remarks: tuple[str, ...]


def _lift(store: Store, plan: SessionPlan, planned: PlannedExercise) -> _Lift:
    remarks: list[str] = []
    sets = (
        pd.DataFrame()
        if plan.athlete is None
        else lifted_sets(store, plan.athlete, planned.exercise, plan.day)
    )
    own_line = own_line_of(sets, planned.exercise, plan.load_unit, remarks)
    return _Lift(planned, sets, own_line, maximum_of(planned, own_line), tuple(remarks))


def _ordered(lift: _Lift, known: Row) -> OrderedExercise:
    planned, maximum = lift.planned, lift.maximum
    share = None
    if planned.load is not None and maximum is not None:
        share = planned.load / maximum.value
    return OrderedExercise(
        name=known["name"],
        joints=frozenset(known["joints"].split(BETWEEN_JOINTS)),
        complexity=int(known["complexity"]),
        kind=known["kind"],
        goal=planned.goal,
        being_learned=planned.being_learned,
        working_sets=planned.working_sets,
        share_of_max=share,
    )


def _part(plan: SessionPlan, lift: _Lift, ordered: OrderedExercise, own: OwnWarmUp) -> ExercisePart:
    planned, maximum = lift.planned, lift.maximum
    remarks = list(lift.remarks)
    working, ramp = _loads(plan, planned, own, maximum, remarks)
    counting = None
    if working is not None and maximum is not None:
        counting = working_loads(planned.goal, ordered.kind, maximum.value, working.load)
    return ExercisePart(
        planned=planned,
        name=ordered.name,
        kind=ordered.kind,
        own=own,
        ramp=ramp,
        working=working,
        maximum=maximum,
        counting=counting,
        own_line=lift.own_line,
        sets=lift.sets,
        remarks=tuple(remarks),
    )


def _loads(
    plan: SessionPlan,
    planned: PlannedExercise,
    own: OwnWarmUp,
    maximum: Maximum | None,
    remarks: list[str],
) -> tuple[BarLoad | None, tuple[RampSet, ...]]:
    """Return the working load that the plates can make, and the sets on the way to it."""
    if planned.load is None:
        return None, ()
    most = None if maximum is None else maximum.value
    try:
        barbell = _barbell(plan) if planned.on_bar else None
        working = barbell.nearest(planned.load) if barbell else BarLoad(planned.load, ())
        return working, ramp_sets(planned.load, planned.repetitions, most, barbell, own.how)
    except (ModelError, BadInput) as error:
        remarks.append(str(error))
        return BarLoad(planned.load, ()), ()


def _barbell(plan: SessionPlan) -> Barbell:
    return barbell_of(plan.bar_load, plan.plates)


def _by_curve(
    store: Store, plan: SessionPlan, measure: Measure | None, parts: Sequence[ExercisePart]
) -> tuple[str, Advice | None]:
    """Return the exercise that the curve applies to, and what it advises before its work.

    A response curve applies only to its own kind of effort: a set of a lift is not a jump. The
    exercise's own efforts count towards the day's most, so fewer are left before it.
    """
    if measure is None or plan.athlete is None:
        return "", None
    kind = kind_of_effort(measure)
    alike = next((part for part in parts if part.kind == kind), None)
    if alike is None:
        return "", None
    curve = kept_draws(store, measure.code, plan.athlete).get(plan.athlete)
    if curve is None:
        return alike.name, None
    around = replace(curve.usual, general_minutes=plan.general_minutes)
    planned = alike.planned
    left = curve.limits.most_allowed - planned.working_sets * planned.repetitions
    return alike.name, advise(curve, ToFollow(), around, max(left, 0.0))
