from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import duckdb
import pandas as pd


def fetch(cursor: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()) -> pd.DataFrame:
    """Run a query and give its rows; a missing value is NaN, NaT or None."""
    return cursor.execute(sql, list(values)).df()


def fetch_number(cursor: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()) -> int:
    """Run a query that counts something and give the count."""
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
