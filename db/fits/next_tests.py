"""What one more session of each athlete is expected to bring, as saved with a fit."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.file.frames import complete, fetch, insert
from db.file.store import Store

__all__ = ["NEXT_TEST_COLUMNS", "insert_next_tests", "latest_next_tests"]

NEXT_TEST_COLUMNS = (
    "athlete kind volume worth_pct sessions_to_firm_call takes takes_low takes_high".split()
)


def insert_next_tests(cursor: duckdb.DuckDBPyConnection, fit_id: int, rows: pd.DataFrame) -> None:
    """Save the next tests of a fit, within a unit of work.

    Parameters
    ----------
    cursor : DuckDBPyConnection
    fit_id : int
    rows : DataFrame
        A row per athlete and kind: `NEXT_TEST_COLUMNS`; `sessions_to_firm_call` is missing if
        it is too many to say.

    Raises
    ------
    BadInput
        If a column or a number is missing, or a number is not finite.
    """
    kept = complete(rows, NEXT_TEST_COLUMNS, "next tests", "sessions_to_firm_call")
    insert(cursor, "next_test", kept.assign(fit_id=fit_id))


def latest_next_tests(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """List the next tests of active athletes by a measure's newest fit, highest worth first.

    Returns
    -------
    DataFrame
        `NEXT_TEST_COLUMNS` and `name`; a row per athlete and kind.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(NEXT_TEST_COLUMNS)}, name FROM latest_next_test "
            "WHERE measure = $1 AND active AND ($2 IS NULL OR athlete = $2) "
            "ORDER BY worth_pct DESC, name, athlete, kind",
            [measure, athlete],
        )
