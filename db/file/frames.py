from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import duckdb

from db.errors import BadInput

if TYPE_CHECKING:  # pandas takes long to load, and opening a store needs no frames
    import pandas as pd


def fetch(cursor: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()) -> pd.DataFrame:
    """Run a query and return its rows; a missing value is NaN, NaT or None."""
    return cursor.execute(sql, list(values)).df()


def fetch_number(cursor: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()) -> int:
    """Run a query that counts something and return the count."""
    row = cursor.execute(sql, list(values)).fetchone()
    return int(row[0]) if row else 0


@contextmanager
def registered(cursor: duckdb.DuckDBPyConnection, name: str, frame: pd.DataFrame) -> Iterator[None]:
    """Let statements of this cursor read a frame by a name; NaN, NaT and None read as NULL."""
    cursor.register(name, frame)
    try:
        yield
    finally:
        cursor.unregister(name)


def insert(cursor: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame) -> None:
    """Append the rows of a frame to a table that has its columns."""
    columns = ", ".join(f'"{column}"' for column in frame.columns)
    with registered(cursor, "inserted_rows", frame):
        cursor.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM inserted_rows")


def complete(
    frame: pd.DataFrame, columns: list[str], what: str, *may_be_missing: str
) -> pd.DataFrame:
    """Return some columns of a fit's results, checked to be complete and finite.

    Raises
    ------
    BadInput
        If a column is missing, or a value is missing or not finite in a column that is not in
        `may_be_missing`.
    """
    import numpy as np
    import pandas as pd

    missing = [column for column in columns if column not in frame]
    if missing:
        raise BadInput(f"The {what} of a fit have no column {', '.join(missing)}.")
    kept = frame[columns]
    for column in columns:
        numeric = pd.api.types.is_numeric_dtype(kept[column])
        finite = np.isfinite(kept[column]) if numeric else kept[column].notna()
        if column not in may_be_missing and not finite.all():
            raise BadInput(f"The {what} of a fit have a {column} that is missing or not finite.")
    return kept
