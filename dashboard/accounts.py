"""Sign-in names and passwords: what they may look like, how they are kept and checked."""

from __future__ import annotations

import re
import secrets
import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from db.errors import BadInput
from db.people import Person, get_person, password_hash, set_password_hash
from db.store import Store

SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200
SIGN_IN_NAME = re.compile(r"[a-z0-9][a-z0-9._@+-]{1,63}")

HASHER = PasswordHasher()


def sign_in_name(text: str) -> str:
    """Return a sign-in name as it is kept: without outer spaces, in small letters.

    Raises
    ------
    BadInput
        If it is not 2 to 64 letters, digits and ``. _ @ + -``.
    """
    name = text.strip().lower()
    if not SIGN_IN_NAME.fullmatch(name):
        raise BadInput(
            "That sign-in name cannot be used. Take 2 to 64 letters (a to z), digits, and "
            "any of . _ @ + - and begin with a letter or digit."
        )
    return name


def hash_password(password: str) -> str:
    """Return the argon2id hash of a new password.

    Raises
    ------
    BadInput
        If the password is shorter or longer than allowed.
    """
    if len(password) < SHORTEST_PASSWORD:
        raise BadInput(
            f"The password has {len(password)} characters and needs at least "
            f"{SHORTEST_PASSWORD}. Three or four plain words make a good one."
        )
    if len(password) > LONGEST_PASSWORD:
        raise BadInput(f"The password is longer than {LONGEST_PASSWORD} characters. Shorten it.")
    return HASHER.hash(_composed(password))


def person_with_password(store: Store, name: str, password: str) -> Person | None:
    """Return the active person who signs in with this name and password, or None.

    An unknown name costs the same work as a wrong password, so that the time taken does not
    tell which names exist. A hash made with older settings is made anew.
    """
    name = name.strip().lower()
    kept_hash, nobodys_hash = password_hash(store, name), _nobodys_hash()
    if not _matches(kept_hash or nobodys_hash, password) or kept_hash is None:
        return None
    person = get_person(store, name)
    if person is None or not person.active:
        return None
    if HASHER.check_needs_rehash(kept_hash):
        set_password_hash(store, name, HASHER.hash(_composed(password)), by=name)
    return person


def generate_password() -> str:
    """Return a random password that can be read out, such as ``lomi-kadu-resa-vobi-47``.

    Eight of 80 syllables and a number of 90 make about 57 bits.
    """
    groups = ["".join(_syllable() for _ in range(2)) for _ in range(4)]
    return "-".join([*groups, str(10 + secrets.randbelow(90))])


def _syllable() -> str:
    return secrets.choice("bdfghjklmnprstvz") + secrets.choice("aeiou")


def _matches(kept_hash: str, password: str) -> bool:
    try:
        return HASHER.verify(kept_hash, _composed(password[:LONGEST_PASSWORD]))
    except (VerificationError, InvalidHashError):
        return False


def _composed(password: str) -> str:
    """Return the same letters for an accent typed as one character or as two."""
    return unicodedata.normalize("NFC", password)


@cache
def _nobodys_hash() -> str:
    return HASHER.hash(secrets.token_urlsafe())
