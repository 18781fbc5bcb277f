from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import duckdb

Noted = Callable[[str, str, int], None]
_noted: list[Noted] = []


def note_writes(noted: Noted) -> None:
    """Let somebody know of every write of this process once it is committed.

    Parameters
    ----------
    noted : callable
        Takes who wrote, the action and the revision; must not raise.
    """
    _noted[:] = [noted]


def committed(person: str, action: str, revision: int) -> None:
    """Tell of a write that was committed."""
    for noted in _noted:
        noted(person, action, revision)


def record_write(
    cursor: duckdb.DuckDBPyConnection,
    person: str,
    action: str,
    detail: str,
    audit: str = "audit",
) -> int:
    """Add the audit row of a write and give its revision.

    Nothing else writes to the audit but a change of schema that changes what somebody may see.
    """
    row = cursor.execute(
        f"INSERT INTO {audit} (revision, person, action, detail) "
        f"SELECT coalesce(max(revision), 0) + 1, ?, ?, ? FROM {audit} RETURNING revision",
        [person, action, detail],
    ).fetchone()
    return int(row[0]) if row else 0


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
