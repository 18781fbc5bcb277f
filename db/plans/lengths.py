from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.tables.cells import MAX_VOLUME

GOALS = ("best", "sustained", "growth")
AWAY = "away"
"""The reason of a choice that has lapsed because the athlete is away from training."""


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
        Why, if the coach said.
    second_game : bool
        Whether it is for the second game of its day.
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
    second_game: bool = False


_FIELDS = [field.name for field in fields(PlanEntry)]
_COLUMNS = [name for name in _FIELDS if name != "second_game"]


def save_choice(store: Store, plan: PlanEntry, person: str) -> int:
    """Save what a coach set and return its number; the newest counts, older ones are kept.

    Raises
    ------
    BadInput
        If the goal, a volume, the athlete or the measure is not allowed.
    """
    with store.writing(person, "save choice", f"{plan.day} {plan.athlete}") as cursor:
        return insert_choice(cursor, plan, person)


def insert_choice(cursor: duckdb.DuckDBPyConnection, plan: PlanEntry, person: str) -> int:
    """Save what a coach set, within a unit of work, and return its number.

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
    number = fetch_number(
        cursor,
        f"INSERT INTO plan ({', '.join(_COLUMNS)}, person) "
        f"VALUES ({', '.join('?' for _ in _COLUMNS)}, ?) RETURNING plan_id",
        [*(getattr(plan, name) for name in _COLUMNS), person],
    )
    if plan.second_game:
        cursor.execute("INSERT INTO second_game_plan VALUES (?, ?)", [number, plan.athlete])
    return number


def save_training(
    store: Store, here: Sequence[PlanEntry], away: Sequence[PlanEntry], person: str
) -> None:
    """Save what is set for the athletes who are here on a day, and who is away, all or none.

    An athlete who is away gets a choice that has lapsed: nothing is set, and the day shows why. A
    length stays if it was set for a game, was drawn in a trial, or has a record of what was done.

    Raises
    ------
    BadInput
        As `save_choice`.
    """
    with store.writing(person, "save training", str(len(here) + len(away))) as cursor:
        for plan in here:
            insert_choice(cursor, plan, person)
        for plan in away:
            if plan.athlete not in _who_stays(cursor, plan.day, plan.measure):
                number = insert_choice(cursor, replace(plan, reason=AWAY), person)
                cursor.execute("INSERT INTO lapsed_plan VALUES (?, ?)", [number, plan.athlete])


def who_stays(store: Store, day: date, measure: str) -> frozenset[str]:
    """Return the codes of the athletes whose length on a day stays if they are away from training.

    It was set for a game, was drawn in a trial, or has a record of what was done.
    """
    with store.reading() as cursor:
        return _who_stays(cursor, day, measure)


def _who_stays(cursor: duckdb.DuckDBPyConnection, day: date, measure: str) -> frozenset[str]:
    rows = cursor.execute(
        "SELECT athlete FROM plan_in_force WHERE day = ? AND measure = ? AND NOT second_game "
        "AND (done_volume IS NOT NULL OR plan_id IN (SELECT plan_id FROM trial_session) "
        "OR plan_id IN (SELECT plan_id FROM game_in_force))",
        [day, measure],
    ).fetchall()
    return frozenset(code for (code,) in rows)


def away_from(store: Store, day: date, measure: str) -> frozenset[str]:
    """Return the codes of the athletes saved as away from training on a day."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT athlete FROM (SELECT * FROM plan_detail WHERE day = ? AND measure = ? "
            "AND NOT second_game QUALIFY row_number() OVER (PARTITION BY athlete "
            "ORDER BY plan_id DESC) = 1) SEMI JOIN lapsed_plan USING (plan_id) WHERE reason = ?",
            [day, measure, AWAY],
        ).fetchall()
    return frozenset(code for (code,) in rows)


def plans(store: Store, day: date, measure: str, second_game: bool | None = None) -> pd.DataFrame:
    """List what is set for a day, the newest choice of each athlete.

    Parameters
    ----------
    store, day, measure
        Where, and for which day and measure.
    second_game : bool, optional
        True lists what is set for a second game of the day, False everything else. None lists
        both, so an athlete may have two rows.

    Returns
    -------
    DataFrame
        `plan_id`, `day`, `athlete`, `name`, `measure`, `goal`, `efforts_to_follow`,
        `advised_volume`, `standard_volume`, `chosen_volume`, `reason`, `done_volume`,
        `outcome`, `saved_at`, `person`, `second_game`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM plan_in_force WHERE day = $1 AND measure = $2 "
            "AND ($3 IS NULL OR second_game = $3) ORDER BY name, athlete, second_game",
            [day, measure, second_game],
        )


def all_plans(store: Store, measure: str | None = None) -> pd.DataFrame:
    """List what is set for any day, of one measure or of all, in order of days.

    Columns: those of `plans`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM plan_in_force WHERE $1 IS NULL OR measure = $1 "
            "ORDER BY day, measure, athlete, second_game",
            [measure],
        )


def next_day(store: Store, measure: str, since: date) -> date | None:
    """Return the first day from `since` on for which a length is set; None without one."""
    with store.reading() as cursor:
        [(found,)] = cursor.execute(
            "SELECT min(day) FROM plan_in_force WHERE measure = ? AND day >= ?", [measure, since]
        ).fetchall()
    return found


def choices(store: Store, athlete: str) -> pd.DataFrame:
    """List every choice for an athlete, in force or not, newest first.

    Returns
    -------
    DataFrame
        `plan_id`, `saved_at`, `person`, `day`, `measure`, `goal`, `efforts_to_follow`,
        `advised_volume`, `standard_volume`, `chosen_volume`, `reason`, `second_game`, `before`
        (what was set before for the same day, measure and game; missing for the first) and
        `in_force`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT plan_id, saved_at, person, day, measure, goal, efforts_to_follow, "
            "advised_volume, standard_volume, chosen_volume, reason, second_game, "
            "lag(chosen_volume) OVER w AS before, "
            "plan_id IN (SELECT plan_id FROM plan_in_force) AS in_force FROM plan_detail "
            "WHERE athlete = ? WINDOW w AS (PARTITION BY day, measure, second_game "
            "ORDER BY plan_id) ORDER BY plan_id DESC",
            [athlete],
        )


def take_back_choice(store: Store, plan_id: int, reason: str, person: str) -> int:
    """Take a choice back with a new one: what was set before, else the advised volume or standard.

    Raises
    ------
    BadInput
        If there is no such choice, it is not in force, there is no volume to go back to, or the
        reason is empty.
    """
    if not reason.strip():
        raise BadInput("Taking a choice back needs a reason. Say in a few words why.")
    columns = ", ".join(_FIELDS)
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {columns} FROM plan_detail WHERE plan_id = ?", [plan_id]
        ).fetchone()
    if row is None:
        raise BadInput(f"There is no choice {plan_id}.")
    plan = PlanEntry(*row)
    told = choices(store, plan.athlete)
    this = told[told["plan_id"] == plan_id].to_dict("records")[0]
    if not this["in_force"]:
        raise BadInput(
            "A newer choice was made for that day since, or its game was removed. Take the newer"
            " one back first, or set a length on 'Before the session'."
        )
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
        check_volume(what.replace("_", " "), getattr(plan, what))


def check_volume(what: str, volume: float | None) -> None:
    """Refuse a volume that nobody can do; None is allowed."""
    if volume is not None and not 0 <= volume <= MAX_VOLUME:
        raise BadInput(f"The {what} is {volume:g}; it must be 0 to {MAX_VOLUME:g}.")
