from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import duckdb

from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.store import Store
from db.people.emails import EMAIL_COLUMN, folded, put_email
from db.people.roles import SEES_ALL_COLUMN, check_role, put_sight, with_sight
from db.roster.squads import squads_column

_COLUMNS = (
    f"person, display_name, role, athlete, active, {squads_column('person')}, {EMAIL_COLUMN}, "
    f"{SEES_ALL_COLUMN}"
)


@dataclass(frozen=True)
class Person:
    """An account.

    Attributes
    ----------
    person : str
        Sign-in name.
    display_name : str
        Name as shown.
    role : str
        director, coach or athlete.
    athlete : str or None
        Code of the athlete whose own page this account sees; needed for the role athlete.
    active : bool
        Whether the account may sign in.
    squads : tuple of str
        The squads whose athletes a coach sees.
    email : str or None
        Address by which the club's sign-in knows the person, if it does.
    sees_all : bool
        Whether a coach sees all athletes. Without this and without squads a coach sees nobody.
    """

    person: str
    display_name: str
    role: str
    athlete: str | None = None
    active: bool = True
    squads: tuple[str, ...] = ()
    email: str | None = None
    sees_all: bool = False

    @property
    def limited(self) -> bool:
        """Whether this is a coach who sees some athletes only, or nobody yet."""
        return self.role == "coach" and not self.sees_all


@dataclass(frozen=True)
class SignIn:
    """A browser that a person is signed in with.

    Attributes
    ----------
    token_sha256 : str
        SHA-256 of its cookie, by which the store knows it.
    opened_at, expires_at : datetime
        When it begins and ends.
    """

    token_sha256: str
    opened_at: datetime
    expires_at: datetime


def any_people(store: Store) -> bool:
    """Say whether there is any account."""
    with store.reading() as cursor:
        return fetch_number(cursor, "SELECT count(*) FROM person") > 0


def list_people(store: Store) -> list[Person]:
    """List the accounts by sign-in name."""
    with store.reading() as cursor:
        return _people(cursor, "ORDER BY person")


def get_person(store: Store, name: str) -> Person | None:
    """Return the account with a sign-in name, or None."""
    with store.reading() as cursor:
        return next(iter(_people(cursor, "WHERE person = ?", [name])), None)


def person_with_email(store: Store, email: str) -> Person | None:
    """Return the active person whom the club's sign-in knows by an address, or None."""
    with store.reading() as cursor:
        known = "WHERE active AND person IN (SELECT person FROM person_email WHERE email = ?)"
        return next(iter(_people(cursor, known, [folded(email)])), None)


def add_person(store: Store, person: Person, password_hash: str, by: str) -> None:
    """Add an account.

    Raises
    ------
    BadInput
        If the name is taken or empty, there is no such role, the athlete or a squad is unknown,
        or the e-mail address is invalid or another person's.
    """
    if not person.person or person.person != person.person.strip().lower():
        raise BadInput(
            f"The sign-in name '{person.person}' is empty, or has capitals or spaces. Write it "
            "in small letters without spaces."
        )
    if not person.display_name.strip():
        raise BadInput("The account needs a name to show.")
    sight = person.squads, person.sees_all
    what = f"{person.person} as {with_sight(person.role, *sight)}"
    with store.writing(by, "add person", what) as cursor:
        check_role(cursor, person.role, person.athlete, *sight)
        if _people(cursor, "WHERE person = ?", [person.person]):
            raise BadInput(f"The sign-in name '{person.person}' is taken. Choose another one.")
        facts = person.role, person.athlete, person.active, password_hash
        cursor.execute(
            "INSERT INTO person (person, display_name, role, athlete, active, password_hash) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            [person.person, person.display_name.strip(), *facts],
        )
        put_sight(cursor, person.person, *sight)
        put_email(cursor, person.person, person.email)


def password_hash(store: Store, name: str) -> str | None:
    """Return the hash of an account's password, or None if there is no such account."""
    with store.reading() as cursor:
        row = cursor.execute("SELECT password_hash FROM person WHERE person = ?", [name]).fetchone()
    return str(row[0]) if row else None


def set_password_hash(
    store: Store, name: str, password_hash: str, by: str, keep_open: str = ""
) -> None:
    """Change the hash of a password and close the person's web sessions, except one."""
    with store.writing(by, "change password", name) as cursor:
        change_within(cursor, name, "password_hash = ?", [password_hash], keep_open)


def set_active(store: Store, name: str, active: bool, by: str) -> None:
    """Activate or deactivate an account, and close the person's web sessions."""
    with store.writing(by, "activate person" if active else "deactivate person", name) as cursor:
        if not active:
            _check_other_director(cursor, name)
        change_within(cursor, name, "active = ?", [active])


def set_email(store: Store, name: str, email: str | None, by: str) -> None:
    """Change the address by which the club's sign-in knows a person, or take it away.

    Closes the person's web sessions: the new address may belong to somebody else.

    Raises
    ------
    BadInput
        If there is no such account, or the address is invalid or another person's.
    """
    with store.writing(by, "change e-mail" if email else "remove e-mail", name) as cursor:
        if not _people(cursor, "WHERE person = ?", [name]):
            raise _no_account(name)
        put_email(cursor, name, email)
        _close_all(cursor, name, "")


def set_role(
    store: Store,
    name: str,
    role: str,
    by: str,
    athlete: str | None = None,
    squads: Sequence[str] = (),
    sees_all: bool = False,
) -> None:
    """Change the role and the athlete or sight that goes with it, and close the web sessions."""
    what = f"{name} to {with_sight(role, squads, sees_all)}"
    with store.writing(by, "change role", what) as cursor:
        check_role(cursor, role, athlete, squads, sees_all)
        if role != "director":
            _check_other_director(cursor, name)
        change_within(cursor, name, "role = ?, athlete = ?", [role, athlete])
        put_sight(cursor, name, squads, sees_all)


def open_web_session(store: Store, person: str, token_sha256: str, expires_at: datetime) -> None:
    """Remember that a person signed in until a moment (with time zone)."""
    with store.writing(person, "sign in") as cursor:
        cursor.execute(
            "INSERT INTO web_session (token_sha256, person, expires_at) VALUES (?, ?, ?)",
            [token_sha256, person, expires_at],
        )


def person_of_web_session(store: Store, token_sha256: str, now: datetime) -> Person | None:
    """Return the active person of a web session that is neither closed nor expired, or None."""
    with store.reading() as cursor:
        people = _people(
            cursor,
            "WHERE active AND person IN (SELECT person FROM web_session "
            "WHERE token_sha256 = ? AND closed_at IS NULL AND expires_at > ?)",
            [token_sha256, now],
        )
    return next(iter(people), None)


def has_signed_in(store: Store, token_sha256: str, person: str) -> bool:
    """Say whether a web session is or was this person's."""
    with store.reading() as cursor:
        held = "SELECT count(*) FROM web_session WHERE token_sha256 = ? AND person = ?"
        return fetch_number(cursor, held, [token_sha256, person]) > 0


def close_web_session(store: Store, token_sha256: str) -> None:
    """Close one web session; nothing happens when it is closed or unknown."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT person FROM web_session WHERE token_sha256 = ? AND closed_at IS NULL",
            [token_sha256],
        ).fetchone()
    if row:
        with store.writing(row[0], "sign out") as cursor:
            cursor.execute(
                "UPDATE web_session SET closed_at = now() "
                "WHERE token_sha256 = ? AND closed_at IS NULL",
                [token_sha256],
            )


def sign_ins(store: Store, person: str, now: datetime) -> list[SignIn]:
    """List the web sessions of a person that are open, newest first."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT token_sha256, opened_at, expires_at FROM web_session WHERE person = ? "
            "AND closed_at IS NULL AND expires_at > ? ORDER BY opened_at DESC, token_sha256",
            [person, now],
        ).fetchall()
    return [SignIn(*row) for row in rows]


def close_all_web_sessions(store: Store, person: str, keep_open: str = "") -> None:
    """Close every web session of a person, except one."""
    with store.writing(person, "sign out everywhere") as cursor:
        _close_all(cursor, person, keep_open)


def _people(
    cursor: duckdb.DuckDBPyConnection, clause: str, values: Sequence[Any] = ()
) -> list[Person]:
    rows = cursor.execute(f"SELECT {_COLUMNS} FROM person {clause}", list(values)).fetchall()
    return [Person(*(*row[:5], tuple(row[5] or ()), *row[6:])) for row in rows]


def change_within(
    cursor: duckdb.DuckDBPyConnection,
    name: str,
    assignments: str,
    values: Sequence[Any],
    keep_open: str = "",
) -> None:
    """Change an account within a unit of work, and close its web sessions, except one."""
    changed = fetch_number(
        cursor, f"UPDATE person SET {assignments} WHERE person = ?", [*values, name]
    )
    if not changed:
        raise _no_account(name)
    _close_all(cursor, name, keep_open)


def _no_account(name: str) -> BadInput:
    return BadInput(f"There is no account '{name}'. Check the sign-in name.")


def _close_all(cursor: duckdb.DuckDBPyConnection, person: str, keep_open: str) -> None:
    cursor.execute(
        "UPDATE web_session SET closed_at = now() "
        "WHERE person = ? AND closed_at IS NULL AND token_sha256 <> ?",
        [person, keep_open],
    )


def _check_other_director(cursor: duckdb.DuckDBPyConnection, name: str) -> None:
    directors = [who.person for who in _people(cursor, "WHERE active AND role = 'director'")]
    if directors == [name]:
        raise BadInput(
            f"'{name}' is the last active director, and somebody must keep the keys. Add another "
            "director first."
        )
