from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields, replace
from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.tables.cells import MAX_VOLUME

GOALS = ("best", "sustained", "growth")
START_VALUES = (
    "SELECT athlete, measure, started_at::DATE AS day, value, volume, started_at, session_id "
    "FROM effort_detail WHERE kind = 'routine' AND excluded IS NULL "
    "QUALIFY row_number() OVER (PARTITION BY athlete, measure, started_at::DATE ORDER BY "
    "context IS NOT DISTINCT FROM 'game' DESC, effort_detail.started_at, session_id, effort) = 1"
)
"""The first usable effort of each athlete, measure and day: what the warm-up led to."""


@dataclass(frozen=True)
class PlanEntry:
    """What a coach set for an athlete on a day.

    Attributes
    ----------
    day : date
        Day of the game or session.
    athlete, measure : str
        Codes.
    goal : str
        best, sustained or growth.
    efforts_to_follow : int
        Efforts that follow the warm-up.
    advised_volume, standard_volume : float or None
        What was advised, and the standard, at the time; None where there was none.
    chosen_volume : float
        What the coach set.
    reason : str
        Why, if said.
    """

    day: date
    athlete: str
    measure: str
    goal: str
    efforts_to_follow: int
    advised_volume: float | None
    standard_volume: float | None
    chosen_volume: float
    reason: str = ""


_COLUMNS = [field.name for field in fields(PlanEntry)]


def save_choice(store: Store, plan: PlanEntry, person: str) -> int:
    """Save what a coach set and give its number; the newest counts, older ones are kept.

    Raises
    ------
    BadInput
        If the goal, a volume, the athlete or the measure is not allowed.
    """
    with store.writing(person, "save choice", f"{plan.day} {plan.athlete}") as cursor:
        return insert_choice(cursor, plan, person)


def insert_choice(cursor: duckdb.DuckDBPyConnection, plan: PlanEntry, person: str) -> int:
    """Save what a coach set within a unit of work and give its number.

    Raises
    ------
    BadInput
        As `save_choice`.
    """
    _check(plan)
    for table, code in (("athlete", plan.athlete), ("measure", plan.measure)):
        known = f"SELECT count(*) FROM {table} WHERE {table} = ?"
        if not fetch_number(cursor, known, [code]):
            raise BadInput(f"There is no {table} '{code}'. Check the code.")
    return fetch_number(
        cursor,
        f"INSERT INTO plan ({', '.join(_COLUMNS)}, person) "
        f"VALUES ({', '.join('?' for _ in _COLUMNS)}, ?) RETURNING plan_id",
        [*astuple(plan), person],
    )


@dataclass(frozen=True)
class Outcome:
    """What was done of a choice, and the value that followed; None is not known.

    Attributes
    ----------
    plan_id : int
    done_volume, outcome : float or None
        In the volume unit and the unit of the measure. Nothing done is 0.
    """

    plan_id: int
    done_volume: float | None
    outcome: float | None = None


def record_outcome(
    store: Store, plan_id: int, done_volume: float | None, outcome: float | None, person: str
) -> None:
    """Record what was done and the best value that followed; what stood there is kept.

    Raises
    ------
    BadInput
        If there is no such plan, or a number is not allowed.
    """
    record_outcomes(store, [Outcome(plan_id, done_volume, outcome)], person)


def record_outcomes(store: Store, outcomes: Sequence[Outcome], person: str) -> None:
    """Record what was done of several choices, all of them or none; what stood there is kept.

    Raises
    ------
    BadInput
        As `record_outcome`.
    """
    for each in outcomes:
        _check_outcome(each.done_volume, each.outcome)
    numbers = " ".join(str(each.plan_id) for each in outcomes)
    with store.writing(person, "record outcome", numbers) as cursor:
        for each in outcomes:
            _record(cursor, each, person)


def save_done(
    store: Store, done: Sequence[tuple[PlanEntry, float | None, float | None]], person: str
) -> None:
    """Save choices of the past with what was done and what came of it, all of them or none.

    Parameters
    ----------
    done : sequence of (PlanEntry, done volume or None, outcome or None)

    Raises
    ------
    BadInput
        As `save_choice` and `record_outcome`.
    """
    with store.writing(person, "save choices of the past", str(len(done))) as cursor:
        for plan, volume, outcome in done:
            _check_outcome(volume, outcome)
            _record(cursor, Outcome(insert_choice(cursor, plan, person), volume, outcome), person)


def _record(cursor: duckdb.DuckDBPyConnection, outcome: Outcome, person: str) -> None:
    kept = fetch_number(
        cursor,
        "INSERT INTO plan_outcome_change (plan_id, athlete, person, old_done_volume, "
        "new_done_volume, old_outcome, new_outcome) SELECT plan_id, athlete, ?, done_volume, "
        "?, outcome, ? FROM plan SEMI JOIN athlete USING (athlete) WHERE plan_id = ? "
        "RETURNING change_id",
        [person, outcome.done_volume, outcome.outcome, outcome.plan_id],
    )
    if not kept:
        raise BadInput(f"There is no plan {outcome.plan_id}.")
    cursor.execute(
        "UPDATE plan SET done_volume = ?, outcome = ? WHERE plan_id = ?",
        [outcome.done_volume, outcome.outcome, outcome.plan_id],
    )


def start_values(store: Store, day: date, measure: str) -> pd.DataFrame:
    """List the first usable effort of each athlete on a day: what the warm-up led to.

    A session at a game goes before any other of the day; a fade test is none of these.

    Returns
    -------
    DataFrame
        `athlete`, `value`, `volume` (done before it) and `started_at` of its session.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT athlete, value, volume, started_at FROM ({START_VALUES}) "
            "WHERE measure = ? AND day = ? ORDER BY athlete",
            [measure, day],
        )


def plans(store: Store, day: date, measure: str) -> pd.DataFrame:
    """List what is set for a day, the newest choice of each athlete.

    Returns
    -------
    DataFrame
        `plan_id`, `day`, `athlete`, `name`, `measure`, `goal`, `efforts_to_follow`,
        `advised_volume`, `standard_volume`, `chosen_volume`, `reason`, `done_volume`,
        `outcome`, `saved_at`, `person`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM plan_in_force WHERE day = ? AND measure = ? ORDER BY name, athlete",
            [day, measure],
        )


def choices(store: Store, athlete: str) -> pd.DataFrame:
    """List every choice for an athlete, in force or not, newest first.

    Returns
    -------
    DataFrame
        `plan_id`, `saved_at`, `person`, `day`, `measure`, `goal`, `efforts_to_follow`,
        `advised_volume`, `standard_volume`, `chosen_volume`, `reason`, `before` (what was set
        before for the same day and measure; missing for the first) and `in_force`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT plan_id, saved_at, person, day, measure, goal, efforts_to_follow, "
            "advised_volume, standard_volume, chosen_volume, reason, "
            "lag(chosen_volume) OVER w AS before, plan_id = max(plan_id) OVER "
            "(PARTITION BY day, measure) AS in_force FROM plan WHERE athlete = ? "
            "WINDOW w AS (PARTITION BY day, measure ORDER BY plan_id) ORDER BY plan_id DESC",
            [athlete],
        )


def outcome_changes(store: Store, athlete: str) -> pd.DataFrame:
    """List what was recorded of the choices for an athlete, newest first.

    Returns
    -------
    DataFrame
        `changed_at`, `person`, `plan_id`, `day`, `measure`, `old_done_volume`,
        `new_done_volume`, `old_outcome`, `new_outcome`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT changed_at, c.person, plan_id, day, measure, old_done_volume, "
            "new_done_volume, old_outcome, new_outcome FROM plan_outcome_change c "
            "JOIN plan p USING (plan_id) WHERE c.athlete = ? ORDER BY change_id DESC",
            [athlete],
        )


def take_back_choice(store: Store, plan_id: int, reason: str, person: str) -> int:
    """Take a choice back by a new one: what was set before, else what was advised.

    Raises
    ------
    BadInput
        If there is no such choice, it is not the newest of its day, nothing was set or
        advised before it, or the reason is empty.
    """
    if not reason.strip():
        raise BadInput("Taking a choice back needs a reason. Say in a few words why.")
    columns = ", ".join(_COLUMNS)
    with store.reading() as cursor:
        row = cursor.execute(f"SELECT {columns} FROM plan WHERE plan_id = ?", [plan_id]).fetchone()
    if row is None:
        raise BadInput(f"There is no choice {plan_id}.")
    plan = PlanEntry(*row)
    told = choices(store, plan.athlete)
    this = told[told["plan_id"] == plan_id].to_dict("records")[0]
    if not this["in_force"]:
        raise BadInput("A newer choice was made for that day since. Take that one back first.")
    volumes = (this["before"], this["advised_volume"], this["standard_volume"])
    known = [float(volume) for volume in volumes if not pd.isna(volume)]
    if not known:
        raise BadInput("Nothing was set or advised before this choice. Set another length instead.")
    return save_choice(store, replace(plan, chosen_volume=known[0], reason=reason.strip()), person)


def _check(plan: PlanEntry) -> None:
    if plan.goal not in GOALS:
        raise BadInput(f"There is no goal '{plan.goal}'. The goals are {', '.join(GOALS)}.")
    if not 1 <= plan.efforts_to_follow <= MAX_VOLUME:
        raise BadInput(
            f"The efforts to follow are {plan.efforts_to_follow}; they must be 1 to {MAX_VOLUME:g}."
        )
    for what in ("advised_volume", "standard_volume", "chosen_volume"):
        _check_volume(what.replace("_", " "), getattr(plan, what))


def _check_outcome(done_volume: float | None, outcome: float | None) -> None:
    _check_volume("done volume", done_volume)
    if outcome is not None and not 0 < outcome < float("inf"):
        raise BadInput(f"The outcome is {outcome:g}; it must be a number above 0.")


def _check_volume(what: str, volume: float | None) -> None:
    if volume is not None and not 0 <= volume <= MAX_VOLUME:
        raise BadInput(f"The {what} is {volume:g}; it must be 0 to {MAX_VOLUME:g}.")
