"""Links that show one athlete's curve without signing in."""

from __future__ import annotations

from datetime import datetime

import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store

__all__ = ["athlete_of_link", "keep_link", "private_links", "revoke_link"]


def keep_link(
    store: Store, athlete: str, token_sha256: str, expires_at: datetime, person: str
) -> None:
    """Save a link by the SHA-256 of its secret, with the time it expires (with time zone).

    Raises
    ------
    BadInput
        If there is no such athlete.
    """
    with store.writing(person, "make private link", athlete) as cursor:
        if not fetch_number(cursor, "SELECT count(*) FROM athlete WHERE athlete = ?", [athlete]):
            raise BadInput(f"There is no athlete '{athlete}'. Check the code.")
        cursor.execute(
            "INSERT INTO private_link (athlete, token_sha256, person, expires_at) "
            "VALUES (?, ?, ?, ?)",
            [athlete, token_sha256, person, expires_at],
        )


def athlete_of_link(store: Store, token_sha256: str, now: datetime) -> str | None:
    """Return the athlete whose curve a link shows; None if it is unknown, revoked or expired."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT athlete FROM private_link WHERE token_sha256 = ? AND revoked_at IS NULL "
            "AND expires_at > ?",
            [token_sha256, now],
        ).fetchone()
    return None if row is None else str(row[0])


def private_links(store: Store, athlete: str) -> pd.DataFrame:
    """List an athlete's links that still open, newest first.

    Returns
    -------
    DataFrame
        `link_id`, `person`, `made_at`, `expires_at`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT link_id, person, made_at, expires_at FROM private_link WHERE athlete = ? "
            "AND revoked_at IS NULL AND expires_at > now() ORDER BY link_id DESC",
            [athlete],
        )


def revoke_link(store: Store, link_id: int, person: str) -> None:
    """Revoke a link; from now on it opens nothing.

    Raises
    ------
    BadInput
        If there is no such link, or it was revoked before.
    """
    with store.writing(person, "revoke private link", str(link_id)) as cursor:
        found = cursor.execute(
            "UPDATE private_link SET revoked_at = now() WHERE link_id = ? AND revoked_at IS NULL "
            "AND athlete IN (SELECT athlete FROM athlete) RETURNING link_id",
            [link_id],
        ).fetchall()
        if not found:
            raise BadInput("There is no such link, or it was revoked before.")
