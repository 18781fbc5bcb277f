"""Read the audit, which `db.file.transactions.record_write` writes."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from db.file.frames import fetch, fetch_number
from db.file.store import Store


def trail(
    store: Store, people: Sequence[str] = (), actions: Sequence[str] = (), limit: int = 500
) -> pd.DataFrame:
    """List who did what and when, newest first.

    Parameters
    ----------
    store : Store
        The store.
    people, actions : sequence of str
        Only these; empty for all.
    limit : int
        The most rows to return.

    Returns
    -------
    DataFrame
        `revision`, `happened_at`, `person`, `action`, `detail`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT revision, happened_at, person, action, detail FROM audit WHERE {_CHOSEN} "
            "ORDER BY revision DESC LIMIT $3",
            [list(people), list(actions), limit],
        )


def trail_length(store: Store, people: Sequence[str] = (), actions: Sequence[str] = ()) -> int:
    """Count the rows that `trail` would list without a limit."""
    with store.reading() as cursor:
        query = f"SELECT count(*) FROM audit WHERE {_CHOSEN}"
        return fetch_number(cursor, query, [list(people), list(actions)])


def trail_choices(store: Store, of: str) -> list[str]:
    """List the values in the column `person` or `action` of the audit."""
    with store.reading() as cursor:
        rows = cursor.execute(f'SELECT DISTINCT "{of}" FROM audit ORDER BY 1').fetchall()
    return [str(value) for (value,) in rows]


_CHOSEN = (
    "(len($1::VARCHAR[]) = 0 OR list_contains($1::VARCHAR[], person)) "
    "AND (len($2::VARCHAR[]) = 0 OR list_contains($2::VARCHAR[], action))"
)
