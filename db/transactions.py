from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import duckdb


@contextmanager
def transaction(cursor: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Commit what is done inside as a whole; after any error, nothing of it."""
    cursor.begin()
    try:
        yield
        cursor.commit()
    except BaseException:
        roll_back(cursor)
        raise


def roll_back(cursor: duckdb.DuckDBPyConnection) -> None:
    """End the transaction without a trace."""
    try:
        cursor.rollback()
    except duckdb.TransactionException:
        pass  # a commit that failed has ended the transaction already
