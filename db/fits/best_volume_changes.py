"""Whether athletes' best volumes have changed, as saved with a fit."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.file.frames import complete, fetch, insert
from db.file.store import Store

__all__ = ["CHANGE_COLUMNS", "best_volume_changes", "insert_changes"]

CHANGE_COLUMNS = (
    "athlete chance tellable since_session_id earliest_session_id latest_session_id "
    "sessions_since before before_low before_high after after_low after_high"
).split()


def insert_changes(cursor: duckdb.DuckDBPyConnection, fit_id: int, rows: pd.DataFrame) -> None:
    """Save the changes of a fit, within a unit of work.

    Parameters
    ----------
    cursor : DuckDBPyConnection
    fit_id : int
    rows : DataFrame
        A row per athlete with enough sessions to say: `CHANGE_COLUMNS`.

    Raises
    ------
    BadInput
        If a column or a number is missing, or a number is not finite.
    """
    kept = complete(rows, CHANGE_COLUMNS, "changes of best volume")
    insert(cursor, "best_volume_change", kept.assign(fit_id=fit_id))


def best_volume_changes(
    store: Store, measure: str, athlete: str | None = None, least_chance: float = 0.0
) -> pd.DataFrame:
    """List the changes of best volume in a measure's newest fit, the likeliest first.

    Returns
    -------
    DataFrame
        `CHANGE_COLUMNS`, `name`, `active`, and the starts of the sessions: `since`,
        `since_earliest`, `since_latest`. Athletes with too few sessions to say have no row.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(CHANGE_COLUMNS)}, name, active, since, since_earliest, "
            "since_latest FROM latest_best_volume_change WHERE measure = $1 "
            "AND ($2 IS NULL OR athlete = $2) AND chance >= $3 ORDER BY chance DESC, name, athlete",
            [measure, athlete, least_chance],
        )
