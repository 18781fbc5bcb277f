"""Plans of sessions, exercise by exercise, and what is ticked before the first working set."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store

GOALS = ("skill", "speed", "power", "strength", "growth")
LOAD_UNITS = ("kg", "lb")
LONGEST_NAME = 60
LONGEST_NOTE = 400
LEAST_GENERAL_MINUTES = 3.0
"""Nobody begins cold, lifting or playing (common practice, no source)."""
MOST_MINUTES = 60.0
MOST_HOLD_S = 600.0
MOST_LOAD = 2000.0
MOST_EXERCISES = 30


@dataclass(frozen=True)
class SessionPlan:
    """A session without its exercises.

    Attributes
    ----------
    name : str
    day : date
    athlete : str or None
        For whom; None is for nobody in particular.
    measure : str or None
        Whose curve says what the warm-up leaves for the last sets.
    load_unit : str
        kg or lb, of all loads of the plan.
    bar_load : float
        Weight of the bar.
    plates : str
        As the page writes them; empty where there are none.
    general_minutes : float
    stiff : bool
        Whether whoever trains is stiff or slow to start.
    static_hold_s : float
        Longest static hold of one muscle.
    note : str
    """

    name: str
    day: date
    athlete: str | None = None
    measure: str | None = None
    load_unit: str = "kg"
    bar_load: float = 20.0
    plates: str = ""
    general_minutes: float = 6.0
    stiff: bool = False
    static_hold_s: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class PlannedExercise:
    """An exercise of a plan; loads are in the unit of the plan, None where there is none.

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
        Of a working set; as given.
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


@dataclass(frozen=True)
class Readiness:
    """What must hold before the first working set."""

    joints: bool = False
    positions: bool = False
    fresh: bool = False
    peak: bool = False


_PLAN = [field.name for field in fields(SessionPlan)]
_EXERCISE = [field.name for field in fields(PlannedExercise)]
_READINESS = [field.name for field in fields(Readiness)]
_IN_SIGHT = "(athlete IS NULL OR athlete IN (SELECT athlete FROM athlete))"


def list_session_plans(store: Store) -> pd.DataFrame:
    """List the plans, the latest day first.

    Returns
    -------
    DataFrame
        `session_plan_id`, `name`, `day`, `athlete`, `athlete_name` (both missing where it is
        for nobody in particular), `exercises` (count), `saved_at`, `person`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT session_plan_id, s.name, day, s.athlete, a.name AS athlete_name, "
            "(SELECT count(*) FROM planned_exercise e "
            "WHERE e.session_plan_id = s.session_plan_id) AS exercises, saved_at, person "
            "FROM session_plan s LEFT JOIN athlete a ON a.athlete = s.athlete "
            "ORDER BY day DESC, session_plan_id DESC",
        )


def get_session_plan(store: Store, number: int) -> SessionPlan:
    """Give a plan.

    Raises
    ------
    BadInput
        If there is none of that number.
    """
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_PLAN)} FROM session_plan WHERE session_plan_id = ?", [number]
        ).fetchone()
    if row is None:
        raise _no_plan(number)
    return SessionPlan(*row)


def planned_exercises(store: Store, number: int) -> list[PlannedExercise]:
    """List the exercises of a plan in order; empty where there are none."""
    with store.reading() as cursor:
        rows = cursor.execute(
            f"SELECT {', '.join(_EXERCISE)} FROM planned_exercise WHERE session_plan_id = ? "
            "ORDER BY place",
            [number],
        ).fetchall()
    return [PlannedExercise(*row) for row in rows]


def save_session_plan(
    store: Store, plan: SessionPlan, person: str, number: int | None = None
) -> int:
    """Save a plan, a new one or in place of the one with a number, and give its number.

    Its exercises stay as they are.

    Raises
    ------
    BadInput
        If something in it is not allowed, or there is no such plan, athlete or measure.
    """
    _check_plan(plan)
    with store.writing(person, "save session plan", plan.name) as cursor:
        for table, code in (("athlete", plan.athlete), ("measure", plan.measure)):
            _check_known(cursor, table, code)
        columns = ", ".join([*_PLAN, "person"])
        values = [*astuple(plan), person]
        if number is None:
            return fetch_number(
                cursor,
                f"INSERT INTO session_plan ({columns}) VALUES "
                f"({', '.join('?' for _ in values)}) RETURNING session_plan_id",
                values,
            )
        _check_plan_in_sight(cursor, number)
        cursor.execute(
            f"UPDATE session_plan SET {', '.join(f'{column} = ?' for column in _PLAN)}, "
            "person = ?, saved_at = now() WHERE session_plan_id = ?",
            [*values, number],
        )
        return number


def save_planned_exercises(
    store: Store, number: int, exercises: Sequence[PlannedExercise], person: str
) -> None:
    """Save the exercises of a plan, in order, in place of those it had.

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
        _check_plan_in_sight(cursor, number)
        for exercise in exercises:
            _check_known(cursor, "exercise", exercise.exercise)
        cursor.execute("DELETE FROM planned_exercise WHERE session_plan_id = ?", [number])
        for place, exercise in enumerate(exercises, start=1):
            cursor.execute(
                f"INSERT INTO planned_exercise (session_plan_id, place, {', '.join(_EXERCISE)}) "
                f"VALUES (?, ?, {', '.join('?' for _ in _EXERCISE)})",
                [number, place, *astuple(exercise)],
            )


def copy_session_plan(store: Store, number: int, plan: SessionPlan, person: str) -> int:
    """Make a new plan with the exercises of another, and give its number; errors as for saving."""
    exercises = planned_exercises(store, number)
    copied = save_session_plan(store, plan, person)
    save_planned_exercises(store, copied, exercises, person)
    return copied


def delete_session_plan(store: Store, number: int, person: str) -> None:
    """Delete a plan with all that hangs on it.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    with store.writing(person, "delete session plan", str(number)) as cursor:
        _check_plan_in_sight(cursor, number)
        for table in ("session_readiness", "planned_exercise", "session_plan"):
            cursor.execute(f"DELETE FROM {table} WHERE session_plan_id = ?", [number])


def readiness(store: Store, number: int) -> Readiness | None:
    """Give what was last ticked before the first working set; None where nothing was."""
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_READINESS)} FROM session_readiness WHERE session_plan_id = ?",
            [number],
        ).fetchone()
    return None if row is None else Readiness(*row)


def save_readiness(store: Store, number: int, ticked: Readiness, person: str) -> None:
    """Keep what is ticked.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    with store.writing(person, "save readiness", str(number)) as cursor:
        _check_plan_in_sight(cursor, number)
        cursor.execute(
            f"INSERT INTO session_readiness (session_plan_id, {', '.join(_READINESS)}, person) "
            "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (session_plan_id) DO UPDATE SET "
            + ", ".join(f"{column} = excluded.{column}" for column in (*_READINESS, "person"))
            + ", checked_at = now()",
            [number, *astuple(ticked), person],
        )


def _check_plan_in_sight(cursor: duckdb.DuckDBPyConnection, number: int) -> None:
    query = f"SELECT count(*) FROM session_plan WHERE session_plan_id = ? AND {_IN_SIGHT}"
    if not fetch_number(cursor, query, [number]):
        raise _no_plan(number)


def _no_plan(number: int) -> BadInput:
    return BadInput(f"There is no session plan {number}. Choose one from the list.")


def _check_known(cursor: duckdb.DuckDBPyConnection, table: str, code: str | None) -> None:
    known = f"SELECT count(*) FROM {table} WHERE {table} = ?"
    if code is not None and not fetch_number(cursor, known, [code]):
        raise BadInput(f"There is no {table} '{code}'. Check the code.")


def _check_plan(plan: SessionPlan) -> None:
    if not 0 < len(plan.name.strip()) <= LONGEST_NAME:
        raise BadInput(f"A session plan needs a name of 1 to {LONGEST_NAME} characters.")
    if len(plan.note) > LONGEST_NOTE:
        raise BadInput(f"The note has {len(plan.note)} characters; {LONGEST_NOTE} are allowed.")
    if plan.load_unit not in LOAD_UNITS:
        raise BadInput(f"Loads are in {' or '.join(LOAD_UNITS)}. Got '{plan.load_unit}'.")
    if not LEAST_GENERAL_MINUTES <= plan.general_minutes <= MOST_MINUTES:
        raise BadInput(
            f"The general part in minutes is {plan.general_minutes:g}; it must be "
            f"{LEAST_GENERAL_MINUTES:g} to {MOST_MINUTES:g}. Nobody begins cold."
        )
    for what, value, most in (
        ("bar", plan.bar_load, MOST_LOAD),
        ("static hold in seconds", plan.static_hold_s, MOST_HOLD_S),
    ):
        if not 0 <= value <= most:
            raise BadInput(f"The {what} is {value:g}; it must be 0 to {most:g}.")


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
