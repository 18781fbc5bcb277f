"""E-mail addresses by which the club's sign-in knows persons."""

from __future__ import annotations

import re

import duckdb

from db.errors import BadInput

LONGEST_ADDRESS = 254
ADDRESS = re.compile(r"[^\s@,;<>()\"\\]+@[^\s@,;<>()\"\\]+\.[^\s@,;<>()\"\\]+")

EMAIL_COLUMN = "(SELECT email FROM person_email e WHERE e.person = person.person)"
"""SQL for the address of each row of the table of persons."""


def folded(text: str) -> str | None:
    """Return an e-mail address in the form stored and compared; None if it is not valid.

    Plain ASCII only: a letter from another alphabet that looks like a Latin one, or becomes one
    in lower case, must never pass for somebody else's address.
    """
    address = text.strip().lower()
    whole = ADDRESS.fullmatch(address) and len(address) <= LONGEST_ADDRESS and text.isascii()
    return address if whole else None


def put_email(cursor: duckdb.DuckDBPyConnection, person: str, email: str | None) -> None:
    """Set a person's address, or remove it.

    Raises
    ------
    BadInput
        If the address is invalid or another person's.
    """
    if not email:
        cursor.execute("DELETE FROM person_email WHERE person = ?", [person])
        return
    address = folded(email)
    if address is None:
        raise BadInput(
            f"'{email}' is not an e-mail address that can be used. Write one address of plain "
            "letters, such as first.last@club.example."
        )
    holder = cursor.execute("SELECT person FROM person_email WHERE email = ?", [address]).fetchone()
    if holder and holder[0] != person:
        raise BadInput(
            f"The address {address} is that of the account '{holder[0]}' already. An address "
            "belongs to one account; take it from there first."
        )
    cursor.execute(
        "INSERT INTO person_email (person, email) VALUES (?, ?) "
        "ON CONFLICT (person) DO UPDATE SET email = excluded.email",
        [person, address],
    )
