"""Changes to an athlete's efforts: who made them, when, why, and what was there before."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.efforts.effort_changes import change_effort, stored_effort
from db.errors import BadInput
from db.file.frames import fetch
from db.file.store import Store


def effort_trail(store: Store, athlete: str) -> pd.DataFrame:
    """List every change to an athlete's efforts, newest first.

    Returns
    -------
    DataFrame
        `change_id`, `changed_at`, `person`, `reason`, `measure`, `started_at`, `effort_id`,
        `effort`, `old_value`, `new_value`, `old_excluded`, `new_excluded` (reasons, or
        missing) and `last` (whether it is the effort's latest change).
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT change_id, changed_at, person, reason, measure, started_at, effort_id, effort, "
            "old_value, new_value, old_excluded, new_excluded, "
            "change_id = max(change_id) OVER (PARTITION BY effort_id) AS last "
            "FROM effort_change JOIN effort_detail USING (effort_id) WHERE athlete = ? "
            "ORDER BY change_id DESC",
            [athlete],
        )


def imports_of(store: Store, athlete: str) -> pd.DataFrame:
    """List the files that brought efforts of an athlete, newest first.

    Returns
    -------
    DataFrame
        `batch_id`, `measure`, `efforts` (of this athlete), `first_session`, `last_session`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT batch_id, measure, count(*) AS efforts, min(started_at) AS first_session, "
            "max(started_at) AS last_session FROM effort_detail "
            "WHERE athlete = ? AND batch_id IS NOT NULL GROUP BY ALL "
            "ORDER BY batch_id DESC, measure",
            [athlete],
        )


def take_back_change(store: Store, change_id: int, reason: str, person: str) -> None:
    """Take back a change to an effort with a new one that restores what was there before.

    Raises
    ------
    BadInput
        If there is no such change, the effort was changed since, or the reason is empty.
    """
    with store.writing(person, "take back change", str(change_id)) as cursor:
        restore_effort(cursor, change_id, reason, person)


def restore_effort(
    cursor: duckdb.DuckDBPyConnection, change_id: int, reason: str, person: str
) -> None:
    """Take back a change, as `take_back_change` does, within a unit of work."""
    row = cursor.execute(
        "SELECT effort_id, old_value, old_excluded, "
        "change_id = (SELECT max(change_id) FROM effort_change l WHERE "
        "l.effort_id = c.effort_id) FROM effort_change c SEMI JOIN effort_detail "
        "USING (effort_id) WHERE change_id = ?",
        [change_id],
    ).fetchone()
    if row is None:
        raise BadInput(f"There is no change {change_id}.")
    effort_id, value, excluded, last = row
    if not last:
        raise BadInput("The effort was changed again since. Take the newer change back first.")
    change_effort(cursor, stored_effort(cursor, effort_id), reason, person, value, excluded)
