"""Make the first account of a new store, with a code that only the terminal shows."""

from __future__ import annotations

import secrets
from functools import cache
from threading import Lock

from dashboard.sign_in.accounts import hash_password, sign_in_name
from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person, add_person, any_people

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"

_turn = Lock()


@cache
def set_up_code() -> str:
    """Return the set-up code of this run; it no longer works once anybody has an account."""
    groups = ("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(3))
    return "-".join(groups)


def add_first_director(
    store: Store, code: str, name: str, display_name: str, password: str
) -> Person:
    """Add the store's first person, a director, and return them.

    Raises
    ------
    BadInput
        If somebody has an account already, the code is wrong, or the name or password cannot
        be used.
    """
    with _turn:
        if any_people(store):
            raise BadInput("The first account exists already. Sign in, or ask for one of your own.")
        if not secrets.compare_digest(code.strip().upper().encode(), set_up_code().encode()):
            raise BadInput(
                "That is not the set-up code. It is printed in the terminal where the dashboard "
                "was started, and is new at every start."
            )
        person = Person(
            person=sign_in_name(name),
            display_name=display_name.strip() or name.strip(),
            role="director",
            athlete=None,
            active=True,
        )
        add_person(
            store,
            person,
            hash_password(password, person.person, person.display_name),
            by=person.person,
        )
        return person
