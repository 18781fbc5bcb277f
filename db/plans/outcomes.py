"""What athletes did of the lengths set for them, and the values that followed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.plans.lengths import PlanEntry, check_volume, insert_choice, plans

START_VALUES = (
    "SELECT e.athlete, e.measure, e.started_at::DATE AS day, e.value, e.volume, e.started_at, "
    "e.session_id, coalesce(e.started_at >= g.ended_at, FALSE) AS second_game "
    "FROM effort_detail e LEFT JOIN (SELECT athlete, measure, day, max(earlier_ended_at) AS "
    "ended_at FROM game_in_force WHERE earlier_ended_at IS NOT NULL GROUP BY ALL) g "
    "ON g.athlete = e.athlete AND g.measure = e.measure AND g.day = e.started_at::DATE "
    "WHERE e.kind = 'routine' AND e.excluded IS NULL QUALIFY row_number() OVER (PARTITION BY "
    "e.athlete, e.measure, e.started_at::DATE, coalesce(e.started_at >= g.ended_at, FALSE) "
    "ORDER BY e.context IS NOT DISTINCT FROM 'game' DESC, e.started_at, e.session_id, e.effort) "
    "= 1"
)
"""The first usable effort of each athlete, measure and day: what the warm-up led to.

On a day with a second game there is one more, the first after the earlier game.
"""


@dataclass(frozen=True)
class Outcome:
    """What was done of a choice, and the value that followed; None means not known.

    Attributes
    ----------
    plan_id : int
    done_volume, outcome : float or None
        In the volume unit and the unit of the measure. Nothing done is 0.
    assumed : bool
        Whether it was assumed to be as planned, without anybody looking.
    why : str
        Why it was not as planned: one of `WHY`, or empty if nobody said.
    """

    plan_id: int
    done_volume: float | None
    outcome: float | None = None
    assumed: bool = False
    why: str = ""


WHY = ("late", "sore", "told to", "other")


def done_volumes(store: Store, day: date, measure: str, second_game: bool) -> dict[str, float]:
    """Return the volume recorded as done on a day, by athlete, for its second game or all else."""
    rows = plans(store, day, measure, second_game)
    done = rows.set_index("athlete")["done_volume"].dropna()
    return {str(athlete): float(volume) for athlete, volume in done.items()}


def record_outcome(
    store: Store, plan_id: int, done_volume: float | None, outcome: float | None, person: str
) -> None:
    """Record what was done and the best value that followed; earlier records are kept.

    Raises
    ------
    BadInput
        If there is no such plan, or a number is not allowed.
    """
    record_outcomes(store, [Outcome(plan_id, done_volume, outcome)], person)


def record_outcomes(store: Store, outcomes: Sequence[Outcome], person: str) -> None:
    """Record what was done of several choices, all or none; earlier records are kept.

    Raises
    ------
    BadInput
        As `record_outcome`.
    """
    for each in outcomes:
        _check_outcome(each.done_volume, each.outcome)
        if each.why not in ("", *WHY):
            raise BadInput(f"'{each.why}' is no reason. They are {', '.join(WHY)}.")
    numbers = " ".join(str(each.plan_id) for each in outcomes)
    with store.writing(person, "record outcome", numbers) as cursor:
        for each in outcomes:
            _record(cursor, each, person)


def save_done(
    store: Store, done: Sequence[tuple[PlanEntry, float | None, float | None]], person: str
) -> None:
    """Save past choices with what was done and the value that followed, all or none.

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
    if outcome.assumed or outcome.why:
        cursor.execute(
            "INSERT INTO outcome_manner SELECT change_id, athlete, ?, ? "
            "FROM plan_outcome_change WHERE change_id = ?",
            [outcome.assumed, outcome.why, kept],
        )
    cursor.execute(
        "UPDATE plan SET done_volume = ?, outcome = ? WHERE plan_id = ?",
        [outcome.done_volume, outcome.outcome, outcome.plan_id],
    )


def start_values(store: Store, day: date, measure: str, second_game: bool = False) -> pd.DataFrame:
    """List the first usable effort of each athlete on a day: what the warm-up led to.

    A session at a game comes before any other session of the day; fade tests do not count. With
    `second_game` it is the first effort after the day's earlier game, for athletes with a second.

    Returns
    -------
    DataFrame
        `athlete`, `value`, `volume` (done before it) and `started_at` of its session.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT athlete, value, volume, started_at FROM ({START_VALUES}) "
            "WHERE measure = ? AND day = ? AND second_game = ? ORDER BY athlete",
            [measure, day, second_game],
        )


def recorded(store: Store, day: date, measure: str, second_game: bool) -> dict[str, Outcome]:
    """Return what is recorded about the choices in force for a day, by athlete.

    An athlete without a record yet is included, with None for what was done and for the value.
    """
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT p.athlete, p.plan_id, p.done_volume, p.outcome, coalesce(m.assumed, FALSE), "
            "coalesce(m.why, '') FROM plan_in_force p LEFT JOIN (SELECT plan_id, max(change_id) "
            "AS change_id FROM plan_outcome_change GROUP BY plan_id) USING (plan_id) "
            "LEFT JOIN outcome_manner m USING (change_id) "
            "WHERE p.day = ? AND p.measure = ? AND p.second_game = ? ORDER BY ALL",
            [day, measure, second_game],
        ).fetchall()
    return {athlete: Outcome(*found) for athlete, *found in rows}


def outcome_changes(store: Store, athlete: str) -> pd.DataFrame:
    """List the records of what was done of an athlete's choices, newest first.

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


def _check_outcome(done_volume: float | None, outcome: float | None) -> None:
    check_volume("done volume", done_volume)
    if outcome is not None and not 0 < outcome < float("inf"):
        raise BadInput(f"The outcome is {outcome:g}; it must be a number above 0.")
