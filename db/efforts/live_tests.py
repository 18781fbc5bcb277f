"""Tests that run now, and how an athlete's sessions were measured."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.file.frames import fetch
from db.file.store import Store


def open_tests(store: Store) -> pd.DataFrame:
    """List the tests that are not ended, newest live test first.

    Returns
    -------
    DataFrame
        The columns of the view `test_detail`: `session_id`, `round_id`, `place`, `athlete`,
        `name`, `measure`, `started_at`, `kind`, ..., `efforts`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM test_detail WHERE ended_at IS NULL ORDER BY round_id DESC, place",
        )


def parts_in(store: Store, live_test_id: int) -> pd.DataFrame:
    """List the parts of a live test, open or ended, in the order of turns; as `open_tests`."""
    with store.reading() as cursor:
        return fetch(
            cursor, "SELECT * FROM test_detail WHERE round_id = ? ORDER BY place", [live_test_id]
        )


def efforts_in(store: Store, live_test_id: int) -> pd.DataFrame:
    """List the efforts of a live test, part by part in order.

    Returns
    -------
    DataFrame
        `session_id`, `effort_id`, `effort`, `value`, `volume`, `excluded`, `first_value` (as
        first accepted).
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT e.session_id, e.effort_id, e.effort, e.value, e.volume, e.excluded, "
            "coalesce(f.first_value, e.value) AS first_value "
            "FROM effort_detail e JOIN test_detail t ON t.session_id = e.session_id "
            "LEFT JOIN first_effort_value f ON f.effort_id = e.effort_id "
            "WHERE t.round_id = ? ORDER BY t.place, e.effort",
            [live_test_id],
        )


def earlier_methods(
    store: Store, athlete: str, measure: str, besides: int | None = None
) -> pd.DataFrame:
    """List how an athlete's sessions of a measure were measured, except one session.

    Returns
    -------
    DataFrame
        `method`, `device`, `sessions`, `last_session`; the newest first. Sessions without a
        stated method are left out.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT method, device, count(*) AS sessions, max(started_at) AS last_session "
            "FROM method_detail WHERE athlete = $1 AND measure = $2 "
            "AND session_id IN (SELECT session_id FROM effort_detail) "
            "AND ($3 IS NULL OR session_id <> $3) "
            "GROUP BY method, device ORDER BY last_session DESC",
            [athlete, measure, besides],
        )


def open_test_of(
    cursor: duckdb.DuckDBPyConnection, athlete: str, measure: str
) -> tuple[str, str] | None:
    """Return the athlete's name and who began their open test of a measure; None without one."""
    row = cursor.execute(
        "SELECT name, person FROM test_detail WHERE athlete = ? AND measure = ? "
        "AND ended_at IS NULL",
        [athlete, measure],
    ).fetchone()
    return (row[0], row[1]) if row else None
