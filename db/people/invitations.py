"""Links that let an account's owner choose a password, once."""

from __future__ import annotations

from datetime import datetime

import duckdb

from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person, change_within, get_person

__all__ = ["InvitationEnded", "invite", "invited_person", "open_invitations", "take_invitation"]


class InvitationEnded(BadInput):
    """A link no longer opens."""

    title = "This link does not open"

    def __init__(self) -> None:
        super().__init__(
            "It was used, has expired, or another took its place. Ask whoever sent it for a new "
            "one."
        )


_STILL_OPEN = "ended_at IS NULL AND expires_at > ?"


def invite(
    store: Store, name: str, token_sha256: str, now: datetime, expires_at: datetime, by: str
) -> None:
    """Save a link by the SHA-256 of its secret, and end the account's earlier ones.

    Raises
    ------
    BadInput
        If there is no such account, or it may not sign in.
    """
    with store.writing(by, "invite person", name) as cursor:
        row = cursor.execute("SELECT active FROM person WHERE person = ?", [name]).fetchone()
        if row is None:
            raise BadInput(f"There is no account '{name}'. Check the sign-in name.")
        if not row[0]:
            raise BadInput(f"'{name}' may not sign in. Activate the account first.")
        _end(cursor, name, now)
        cursor.execute(
            "INSERT INTO invitation (token_sha256, person, made_by, made_at, expires_at) "
            "VALUES (?, ?, ?, ?, ?)",
            [token_sha256, name, by, now, expires_at],
        )


def invited_person(store: Store, token_sha256: str, now: datetime) -> Person | None:
    """Return the active person whom a link is for; None if it was used or has ended."""
    with store.reading() as cursor:
        name = _person_of(cursor, token_sha256, now)
    person = get_person(store, name) if name else None
    return person if person is not None and person.active else None


def take_invitation(store: Store, token_sha256: str, password_hash: str, now: datetime) -> Person:
    """Set the password of the person a link is for, end the link, and return the person.

    Raises
    ------
    InvitationEnded
        If the link has been used or has ended.
    """
    person = invited_person(store, token_sha256, now)
    if person is None:
        raise InvitationEnded
    with store.writing(person.person, "take invitation", person.person) as cursor:
        if _person_of(cursor, token_sha256, now) is None:
            raise InvitationEnded
        change_within(cursor, person.person, "password_hash = ?", [password_hash])
        _end(cursor, person.person, now)
    return person


def open_invitations(store: Store, now: datetime) -> dict[str, datetime]:
    """Return when each open link expires, by sign-in name."""
    with store.reading() as cursor:
        rows = cursor.execute(
            f"SELECT person, expires_at FROM invitation WHERE {_STILL_OPEN}", [now]
        ).fetchall()
    return dict(rows)


def _person_of(cursor: duckdb.DuckDBPyConnection, token_sha256: str, now: datetime) -> str | None:
    row = cursor.execute(
        f"SELECT person FROM invitation WHERE token_sha256 = ? AND {_STILL_OPEN}",
        [token_sha256, now],
    ).fetchone()
    return None if row is None else str(row[0])


def _end(cursor: duckdb.DuckDBPyConnection, name: str, now: datetime) -> None:
    cursor.execute(
        "UPDATE invitation SET ended_at = ? WHERE person = ? AND ended_at IS NULL", [now, name]
    )
