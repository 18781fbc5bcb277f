from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from datetime import date

import pandas as pd

from db.cells import MAX_VOLUME
from db.errors import BadInput
from db.frames import fetch, fetch_number
from db.store import Store

GOALS = ("best", "sustained", "growth")


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
    _check(plan)
    with store.writing(person, "save choice", f"{plan.day} {plan.athlete}") as cursor:
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


def record_outcome(
    store: Store, plan_id: int, done_volume: float | None, outcome: float | None, person: str
) -> None:
    """Record what was done and the best value that followed, beside the plan.

    Raises
    ------
    BadInput
        If there is no such plan, or a number is not allowed.
    """
    _check_volume("done volume", done_volume)
    if outcome is not None and not 0 < outcome < float("inf"):
        raise BadInput(f"The outcome is {outcome:g}; it must be a number above 0.")
    with store.writing(person, "record outcome", str(plan_id)) as cursor:
        changed = fetch_number(
            cursor,
            "UPDATE plan SET done_volume = ?, outcome = ? WHERE plan_id = ?",
            [done_volume, outcome, plan_id],
        )
        if not changed:
            raise BadInput(f"There is no plan {plan_id}.")


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


def _check(plan: PlanEntry) -> None:
    if plan.goal not in GOALS:
        raise BadInput(f"There is no goal '{plan.goal}'. The goals are {', '.join(GOALS)}.")
    if not 1 <= plan.efforts_to_follow <= MAX_VOLUME:
        raise BadInput(
            f"The efforts to follow are {plan.efforts_to_follow}; they must be 1 to {MAX_VOLUME:g}."
        )
    for what in ("advised_volume", "standard_volume", "chosen_volume"):
        _check_volume(what.replace("_", " "), getattr(plan, what))


def _check_volume(what: str, volume: float | None) -> None:
    if volume is not None and not 0 <= volume <= MAX_VOLUME:
        raise BadInput(f"The {what} is {volume:g}; it must be 0 to {MAX_VOLUME:g}.")
