"""The exercises of a session plan, in order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields

import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch
from db.file.store import Store
from db.plans.session_plans import (
    MOST_LOAD,
    SessionPlan,
    check_known,
    check_plan_in_sight,
    save_session_plan,
)

GOALS = ("skill", "speed", "power", "strength", "growth")

MOST_EXERCISES = 30


@dataclass(frozen=True)
class PlannedExercise:
    """An exercise of a plan; loads are in the unit of the plan, or None.

    Attributes
    ----------
    exercise : str
        Its code.
    goal : str
        One of `GOALS`.
    being_learned : bool
    on_bar : bool
        Whether its load is the bar and plates of the plan.
    working_sets, repetitions : int
    load, one_repetition_max : float or None
        Load of a working set, and the maximum as it was given.
    tested_load : float or None
        Load of a set from which the maximum is estimated.
    tested_repetitions : int or None
        Most repetitions that were possible in it, 2 to 10.
    """

    exercise: str
    goal: str
    being_learned: bool = False
    on_bar: bool = True
    working_sets: int = 3
    repetitions: int = 5
    load: float | None = None
    one_repetition_max: float | None = None
    tested_load: float | None = None
    tested_repetitions: int | None = None


_EXERCISE = [field.name for field in fields(PlannedExercise)]


def planned_exercises(store: Store, number: int) -> list[PlannedExercise]:
    """List the exercises of a plan in order; empty if there are none."""
    with store.reading() as cursor:
        rows = cursor.execute(
            f"SELECT {', '.join(_EXERCISE)} FROM planned_exercise WHERE session_plan_id = ? "
            "ORDER BY place",
            [number],
        ).fetchall()
    return [PlannedExercise(*row) for row in rows]


def exercises_of_athletes(store: Store) -> pd.DataFrame:
    """List the exercises of all plans that are for an athlete, the newest day first.

    Returns
    -------
    DataFrame
        `athlete`, `day`, `load_unit`, and the fields of `PlannedExercise`.
    """
    columns = ", ".join(f"e.{name}" for name in _EXERCISE)
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT s.athlete, s.day, s.load_unit, {columns} FROM planned_exercise e "
            "JOIN session_plan s ON s.session_plan_id = e.session_plan_id "
            "WHERE s.athlete IS NOT NULL ORDER BY s.day DESC, s.session_plan_id DESC, e.place",
        )


def save_planned_exercises(
    store: Store, number: int, exercises: Sequence[PlannedExercise], person: str
) -> None:
    """Save the exercises of a plan, in order, and replace those it had.

    Raises
    ------
    BadInput
        If something in one is not allowed, or there is no such plan or exercise.
    """
    if len(exercises) > MOST_EXERCISES:
        raise BadInput(f"A session has {MOST_EXERCISES} exercises at most.")
    for place, exercise in enumerate(exercises, start=1):
        _check_exercise(place, exercise)
    with store.writing(person, "save exercises of session", str(number)) as cursor:
        check_plan_in_sight(cursor, number)
        for exercise in exercises:
            check_known(cursor, "exercise", exercise.exercise)
        cursor.execute("DELETE FROM planned_exercise WHERE session_plan_id = ?", [number])
        for place, exercise in enumerate(exercises, start=1):
            cursor.execute(
                f"INSERT INTO planned_exercise (session_plan_id, place, {', '.join(_EXERCISE)}) "
                f"VALUES (?, ?, {', '.join('?' for _ in _EXERCISE)})",
                [number, place, *astuple(exercise)],
            )


def copy_session_plan(store: Store, number: int, plan: SessionPlan, person: str) -> int:
    """Save a plan with the exercises of another and return its number; errors as for saving."""
    exercises = planned_exercises(store, number)
    copied = save_session_plan(store, plan, person)
    save_planned_exercises(store, copied, exercises, person)
    return copied


def _check_exercise(place: int, exercise: PlannedExercise) -> None:
    if exercise.goal not in GOALS:
        raise BadInput(f"There is no goal '{exercise.goal}'. The goals are {', '.join(GOALS)}.")
    for what, number, least, most in (
        ("working sets", exercise.working_sets, 1, 20),
        ("repetitions", exercise.repetitions, 1, 100),
        ("repetitions of the set to go by", exercise.tested_repetitions, 2, 10),
    ):
        if number is not None and not least <= number <= most:
            raise BadInput(f"Exercise {place}: {what} must be {least} to {most}. Got {number}.")
    for what, load in (
        ("load", exercise.load),
        ("one-repetition maximum", exercise.one_repetition_max),
        ("load of the set to go by", exercise.tested_load),
    ):
        if load is not None and not (math.isfinite(load) and 0 < load <= MOST_LOAD):
            raise BadInput(
                f"Exercise {place}: the {what} must be above 0, to {MOST_LOAD:g}. Got {load:g}."
            )
    if (exercise.tested_load is None) != (exercise.tested_repetitions is None):
        raise BadInput(f"Exercise {place}: the set to go by needs its load and its repetitions.")
