"""Plans of sessions: for whom, when, and with which bar."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.tables.cells import LEAST_GENERAL_MINUTES

LOAD_UNITS = ("kg", "lb")
LONGEST_NAME = 60
LONGEST_NOTE = 400
MOST_MINUTES = 60.0
MOST_HOLD_S = 600.0
MOST_LOAD = 2000.0


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
        The measure whose curve tells what the warm-up leaves for the last sets.
    load_unit : str
        kg or lb, for all loads of the plan.
    bar_load : float
        Weight of the bar.
    plates : str
        As the page writes them; empty if there are none.
    general_minutes : float
    stiff : bool
        Whether the person who trains is stiff or slow to start.
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


_PLAN = [field.name for field in fields(SessionPlan)]
_IN_SIGHT = "(athlete IS NULL OR athlete IN (SELECT athlete FROM athlete))"


def list_session_plans(store: Store) -> pd.DataFrame:
    """List the plans, the latest day first.

    Returns
    -------
    DataFrame
        `session_plan_id`, `name`, `day`, `athlete`, `athlete_name` (both missing if the plan is
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
    """Return a plan.

    Raises
    ------
    BadInput
        If there is no plan with that number.
    """
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_PLAN)} FROM session_plan WHERE session_plan_id = ?", [number]
        ).fetchone()
    if row is None:
        raise _no_plan(number)
    return SessionPlan(*row)


def save_session_plan(
    store: Store, plan: SessionPlan, person: str, number: int | None = None
) -> int:
    """Save a new plan, or replace the one with `number`, and return its number.

    Its exercises stay as they are.

    Raises
    ------
    BadInput
        If something in it is not allowed, or there is no such plan, athlete or measure.
    """
    _check_plan(plan)
    with store.writing(person, "save session plan", plan.name) as cursor:
        for table, code in (("athlete", plan.athlete), ("measure", plan.measure)):
            check_known(cursor, table, code)
        columns = ", ".join([*_PLAN, "person"])
        values = [*astuple(plan), person]
        if number is None:
            return fetch_number(
                cursor,
                f"INSERT INTO session_plan ({columns}) VALUES "
                f"({', '.join('?' for _ in values)}) RETURNING session_plan_id",
                values,
            )
        check_plan_in_sight(cursor, number)
        cursor.execute(
            f"UPDATE session_plan SET {', '.join(f'{column} = ?' for column in _PLAN)}, "
            "person = ?, saved_at = now() WHERE session_plan_id = ?",
            [*values, number],
        )
        return number


def delete_session_plan(store: Store, number: int, person: str) -> None:
    """Delete a plan with everything that belongs to it.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    with store.writing(person, "delete session plan", str(number)) as cursor:
        check_plan_in_sight(cursor, number)
        for table in ("session_readiness", "planned_exercise", "session_plan"):
            cursor.execute(f"DELETE FROM {table} WHERE session_plan_id = ?", [number])


def check_plan_in_sight(cursor: duckdb.DuckDBPyConnection, number: int) -> None:
    """Refuse a number unless the cursor may see a plan with it."""
    query = f"SELECT count(*) FROM session_plan WHERE session_plan_id = ? AND {_IN_SIGHT}"
    if not fetch_number(cursor, query, [number]):
        raise _no_plan(number)


def _no_plan(number: int) -> BadInput:
    return BadInput(f"There is no session plan {number}. Choose one from the list.")


def check_known(cursor: duckdb.DuckDBPyConnection, table: str, code: str | None) -> None:
    """Refuse a code that is not in a table named like its key column; None is allowed."""
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
