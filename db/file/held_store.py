"""Tell the store that is served from another file in its place, such as an older copy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from db.errors import StoreReplaced


@dataclass(frozen=True)
class Seen:
    """The state of a store when it was last looked at.

    Attributes
    ----------
    store_id : str
        Differs for every store; only copies share it.
    revision : int
        Number of its last write.
    written_at : datetime or None
        When that was; None for a store without writes.
    has_accounts : bool
        Whether somebody had an account.
    """

    store_id: str
    revision: int
    written_at: datetime | None
    has_accounts: bool


def seen(root: duckdb.DuckDBPyConnection) -> Seen:
    """Return the state of an open store with the newest schema."""
    [(store_id, revision, written_at, has_accounts)] = root.execute(
        "SELECT (SELECT value FROM setting WHERE key = 'store_id'), coalesce(max(revision), 0), "
        "arg_max(happened_at, revision), EXISTS (SELECT 1 FROM person) FROM audit"
    ).fetchall()
    return Seen(str(store_id), int(revision), written_at, bool(has_accounts))


def check_continues(root: duckdb.DuckDBPyConnection, before: Seen) -> Seen:
    """Check that an open store is the one seen before with all its writes, and return its state.

    Raises
    ------
    StoreReplaced
        If it is another store, a copy without all of this one's writes, or its accounts are gone.
    """
    now = seen(root)
    if now.store_id != before.store_id:
        raise replaced("It is another store.")
    if now.revision < before.revision:
        raise replaced("It is an older copy of it.")
    written_at = root.execute(
        "SELECT happened_at FROM audit WHERE revision = ?", [before.revision]
    ).fetchall()
    if before.revision and written_at != [(before.written_at,)]:
        raise replaced("It is a copy of it that others have written to.")
    if before.has_accounts and not now.has_accounts:
        raise replaced("Its accounts are gone.")
    return now


def replaced(why: str) -> StoreReplaced:
    """Return the error that the file is not the store that is served, with what to do."""
    return StoreReplaced(
        f"The file of the store is not the one that this dashboard serves. {why} Nothing of it is "
        "shown or changed. Put the right file back, or stop the dashboard and start it again with "
        "the store that it should serve."
    )


def gone() -> StoreReplaced:
    """Return the error that the file is no longer in its place, with what to do."""
    return StoreReplaced(
        "The file of the store is gone, and no new one was made. Put it back, or "
        "stop the dashboard and start it again with the store that it should serve."
    )
