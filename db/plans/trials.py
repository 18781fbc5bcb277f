"""Trials within one athlete: two lengths in random order; each session is a choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.plans.lengths import PlanEntry, insert_choice
from db.tables.cells import MAX_VOLUME

__all__ = [
    "TrialEntry",
    "begin_trial",
    "end_trial",
    "running_trials",
    "set_trial_session",
    "trial_sessions",
]

MOST_BLOCKS = 50


@dataclass(frozen=True)
class TrialEntry:
    """A trial to be set up.

    Attributes
    ----------
    athlete, measure : str
        Codes.
    first_volume, second_volume : float
        The lengths to do and compare.
    seed : int
        What the order was drawn from.
    second_comes : sequence of bool
        For each session in turn, whether it has the second length; two sessions make a block.
    """

    athlete: str
    measure: str
    first_volume: float
    second_volume: float
    seed: int
    second_comes: Sequence[bool]


def begin_trial(store: Store, trial: TrialEntry, person: str) -> int:
    """Set up a trial and return its number.

    Raises
    ------
    BadInput
        If there is no such athlete or measure, the lengths are the same or not allowed, the
        number of sessions is not allowed, or the athlete is already in a trial of this measure.
    """
    _check(trial)
    with store.writing(person, "begin trial", f"{trial.athlete} {trial.measure}") as cursor:
        for table, code in (("athlete", trial.athlete), ("measure", trial.measure)):
            known = f"SELECT count(*) FROM {table} WHERE {table} = ?"
            if not fetch_number(cursor, known, [code]):
                raise BadInput(f"There is no {table} '{code}'. Check the code.")
        running = (
            "SELECT count(*) FROM trial_detail WHERE athlete = ? AND measure = ? "
            "AND ended_at IS NULL AND outcome IS NULL"
        )
        if fetch_number(cursor, running, [trial.athlete, trial.measure]):
            raise BadInput(
                "This athlete is in a trial of this measure already. Finish it or end it first."
            )
        number = fetch_number(
            cursor,
            "INSERT INTO trial (athlete, measure, first_volume, second_volume, blocks, seed, "
            "person) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING trial_id",
            [
                trial.athlete,
                trial.measure,
                trial.first_volume,
                trial.second_volume,
                len(trial.second_comes) // 2,
                trial.seed,
                person,
            ],
        )
        cursor.executemany(
            "INSERT INTO trial_session (trial_id, place, is_second) VALUES (?, ?, ?)",
            [[number, place, bool(second)] for place, second in enumerate(trial.second_comes, 1)],
        )
    return number


def set_trial_session(store: Store, trial_id: int, plan: PlanEntry, person: str) -> int:
    """Set the next session of a trial for a day, and return the number of the choice.

    Raises
    ------
    BadInput
        If there is no such trial, it has ended, all its sessions are set, the choice is for
        somebody or something else, or it is not allowed.
    """
    with store.writing(person, "set trial session", f"{trial_id} {plan.day}") as cursor:
        row = cursor.execute(
            "SELECT place, volume, athlete, measure FROM trial_detail "
            "WHERE trial_id = ? AND ended_at IS NULL AND plan_id IS NULL ORDER BY place LIMIT 1",
            [trial_id],
        ).fetchone()
        if row is None:
            raise BadInput("This trial has no session left to be set.")
        place, volume, *whose = row
        if whose != [plan.athlete, plan.measure] or volume != plan.chosen_volume:
            raise BadInput(
                f"The next session of this trial is {volume:g} for {whose[0]}; set just that."
            )
        number = insert_choice(cursor, plan, person)
        cursor.execute(
            "UPDATE trial_session SET plan_id = ? WHERE trial_id = ? AND place = ?",
            [number, trial_id, place],
        )
    return number


def end_trial(store: Store, trial_id: int, person: str) -> None:
    """End a trial early; its results so far stay.

    Raises
    ------
    BadInput
        If there is no such trial, or it has ended.
    """
    with store.writing(person, "end trial", str(trial_id)) as cursor:
        if not fetch_number(
            cursor,
            "SELECT count(*) FROM trial_detail WHERE trial_id = ? AND ended_at IS NULL",
            [trial_id],
        ):
            raise BadInput("There is no such trial, or it has ended already.")
        cursor.execute("UPDATE trial SET ended_at = now() WHERE trial_id = ?", [trial_id])


def trial_sessions(store: Store, athlete: str, measure: str | None = None) -> pd.DataFrame:
    """List the sessions of an athlete's trials of a measure or of all, the newest trial first.

    Returns
    -------
    DataFrame
        `trial_id`, `measure`, `first_volume`, `second_volume`, `blocks`, `begun_at`,
        `ended_at`, `place`, `block`, `is_second`, `volume`, `plan_id`, `day`, `done_volume`,
        `outcome`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT trial_id, measure, first_volume, second_volume, blocks, begun_at, ended_at, "
            "place, block, is_second, volume, plan_id, day, done_volume, outcome "
            "FROM trial_detail WHERE athlete = $1 AND ($2 IS NULL OR measure = $2) "
            "ORDER BY trial_id DESC, place",
            [athlete, measure],
        )


def running_trials(store: Store, measure: str) -> pd.DataFrame:
    """List the running trials of a measure, one a row, by name.

    Returns
    -------
    DataFrame
        `trial_id`, `athlete`, `name`, `first_volume`, `second_volume`, `sessions` and
        `recorded`, how many of them have a start value.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT trial_id, athlete, name, first_volume, second_volume, count(*) AS sessions, "
            "count(outcome) AS recorded FROM trial_detail WHERE measure = ? AND ended_at IS NULL "
            "GROUP BY ALL HAVING count(outcome) < count(*) ORDER BY name, athlete",
            [measure],
        )


def _check(trial: TrialEntry) -> None:
    for volume in (trial.first_volume, trial.second_volume):
        if not 0 <= volume <= MAX_VOLUME:
            raise BadInput(f"A length is {volume:g}; it must be 0 to {MAX_VOLUME:g}.")
    if trial.first_volume == trial.second_volume:
        raise BadInput("Both lengths are the same. A trial needs two different ones.")
    blocks, odd = divmod(len(trial.second_comes), 2)
    if odd or not 2 <= blocks <= MOST_BLOCKS:
        raise BadInput(f"A trial has 2 to {MOST_BLOCKS} blocks of two sessions.")
