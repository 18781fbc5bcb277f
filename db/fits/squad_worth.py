"""What own lengths are worth against one length for all, as saved with a fit."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.file.frames import complete, fetch, insert
from db.file.store import Store

__all__ = ["WORTH_COLUMNS", "insert_worth", "squad_worth"]

WORTH_COLUMNS = (
    "against volume worth_pct worth_pct_low worth_pct_high athletes gaining gaining_low "
    "gaining_high"
).split()


def insert_worth(cursor: duckdb.DuckDBPyConnection, fit_id: int, rows: pd.DataFrame) -> None:
    """Save what own lengths are worth, within a unit of work.

    Parameters
    ----------
    cursor : DuckDBPyConnection
    fit_id : int
    rows : DataFrame
        `WORTH_COLUMNS`: a row against the `best single` volume and one against the `standard`.

    Raises
    ------
    BadInput
        If a column or a number is missing, or a number is not finite.
    """
    kept = complete(rows, WORTH_COLUMNS, "worth of own lengths")
    insert(cursor, "squad_worth", kept.assign(fit_id=fit_id))


def squad_worth(store: Store, measure: str) -> pd.DataFrame:
    """List what own lengths are worth by a measure's newest fit: `WORTH_COLUMNS`.

    A row against the `best single` volume, then one against the `standard`; no rows if an earlier
    version saved the fit.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(WORTH_COLUMNS)} FROM latest_squad_worth WHERE measure = ? "
            "ORDER BY against",
            [measure],
        )
