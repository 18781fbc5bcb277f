from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import duckdb

Noted = Callable[[str, str, int], None]
_noted: list[Noted] = []


def note_writes(noted: Noted) -> None:
    """Call a function after every committed write of this process.

    Parameters
    ----------
    noted : callable
        Takes who wrote, the action and the revision; must not raise.
    """
    _noted[:] = [noted]


def committed(person: str, action: str, revision: int) -> None:
    """Report a committed write."""
    for noted in _noted:
        noted(person, action, revision)


def record_write(
    cursor: duckdb.DuckDBPyConnection,
    person: str,
    action: str,
    detail: str,
    audit: str = "audit",
) -> int:
    """Add the audit row of a write and return its revision.

    Only one other thing adds rows: a change of schema that changes what somebody may see.
    """
    row = cursor.execute(
        f"INSERT INTO {audit} (revision, person, action, detail) "
        f"SELECT coalesce(max(revision), 0) + 1, ?, ?, ? FROM {audit} RETURNING revision",
        [person, action, detail],
    ).fetchone()
    return int(row[0]) if row else 0


@contextmanager
def transaction(cursor: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Commit everything that is done inside, or nothing after an error."""
    cursor.begin()
    try:
        yield
        cursor.commit()
    except BaseException:
        roll_back(cursor)
        raise


def roll_back(cursor: duckdb.DuckDBPyConnection) -> None:
    """Roll back the transaction, if it is still open."""
    try:
        cursor.rollback()
    except duckdb.TransactionException:
        pass  # a failed commit has already ended the transaction
