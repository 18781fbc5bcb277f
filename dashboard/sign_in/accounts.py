"""Sign-in names and passwords: what they may look like, and how they are stored and checked."""

from __future__ import annotations

import re
import secrets
import unicodedata
from functools import cache
from math import ceil

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from dashboard.sign_in.attempts import FREE_ATTEMPTS, Attempts, Subject
from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person, get_person, password_hash, set_password_hash

SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 128
"""As OWASP's ASVS asks (2.1.1, 2.1.2): any characters, 12 to 128 of them."""
LONGEST_GUESSED_AT = 72
SAFE_GUESSES = 10**10
"""What zxcvbn calls safe against somebody who has stolen slow hashes."""
SIGN_IN_NAME = re.compile(r"[a-z0-9][a-z0-9._@+-]{1,63}")
NOT_IN_A_WORD = re.compile(r"[\W_]+")

HASHER = PasswordHasher()
own_attempts = Attempts()
"""Attempts by people who are signed in; guesses at the sign-in page do not count here."""


def sign_in_name(text: str) -> str:
    """Return a sign-in name as it is stored: without outer spaces, in lower case.

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


def hash_password(password: str, *about: str) -> str:
    """Return the argon2id hash of a new password.

    Parameters
    ----------
    password : str
        The password as typed.
    about : str
        What an attacker would try first: the person's names.

    Raises
    ------
    BadInput
        If the password is shorter or longer than allowed, or easy to guess: one of the 30,000
        most common ones of past breaches, which the library zxcvbn brings, a plain pattern
        such as a row of keys or a year, or a few of these together.
    """
    if len(password) < SHORTEST_PASSWORD:
        raise BadInput(
            f"The password has {len(password)} characters and needs at least "
            f"{SHORTEST_PASSWORD}. Three or four plain words make a good one."
        )
    if len(password) > LONGEST_PASSWORD:
        raise BadInput(f"The password is longer than {LONGEST_PASSWORD} characters. Shorten it.")
    if _guesses(_composed(password), about) < SAFE_GUESSES:
        raise BadInput(
            "That password is among the first that are guessed: it is a common one, a plain "
            "pattern, or close to the name. Three or four plain words that do not belong together "
            "make a good one."
        )
    return HASHER.hash(_composed(password))


def person_with_password(store: Store, name: str, password: str) -> Person | None:
    """Return the active person who signs in with this name and password, or None.

    An unknown name takes the same work as a wrong password, so the time taken does not show
    which names exist. A hash made with older settings is replaced.
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


def change_own_password(
    store: Store, person: Person, sid: str, current: str, new: str, repeated: str
) -> None:
    """Give a person the new password they chose and close all their other web sessions.

    Raises
    ------
    BadInput
        If the current password is wrong, the new one cannot be used or is not the same
        twice, or there were too many attempts.
    """
    subject = Subject(f"person {person.person}", FREE_ATTEMPTS)
    if wait_seconds := ceil(own_attempts.take(subject)):
        raise BadInput(f"Too many attempts. Wait {wait_seconds} seconds, then try again.")
    if person_with_password(store, person.person, current) is None:
        raise BadInput("The current password is wrong. Nothing was changed.")
    own_attempts.succeeded(subject)
    if new != repeated:
        raise BadInput("The two new passwords do not match. Type the same one twice.")
    if new == current:
        raise BadInput("The new password is the current one. Choose another.")
    hashed = hash_password(new, person.person, person.display_name)
    set_password_hash(store, person.person, hashed, by=person.person, keep_open=sid)


def generate_password() -> str:
    """Return a random password that can be read out, such as ``lomi-kadu-resa-vobi-47``.

    Eight of 80 syllables and a number of 90 make about 57 bits.
    """
    groups = ["".join(_syllable() for _ in range(2)) for _ in range(4)]
    return "-".join([*groups, str(10 + secrets.randbelow(90))])


def _guesses(password: str, about: tuple[str, ...]) -> float:
    """Return about how many guesses a patient attacker needs; works without a network."""
    # Loading the lists takes a while, and only a new password needs them.
    from zxcvbn import zxcvbn

    words = [word for text in about for word in (text, *NOT_IN_A_WORD.split(text)) if word]
    return float(zxcvbn(password[:LONGEST_GUESSED_AT], user_inputs=words)["guesses"])


def _syllable() -> str:
    return secrets.choice("bdfghjklmnprstvz") + secrets.choice("aeiou")


def _matches(kept_hash: str, password: str) -> bool:
    try:
        return HASHER.verify(kept_hash, _composed(password))
    except (VerificationError, InvalidHashError):
        return False


def _composed(password: str) -> str:
    """Return the same letters for an accent typed as one character or as two."""
    return unicodedata.normalize("NFC", password)


@cache
def _nobodys_hash() -> str:
    return HASHER.hash(secrets.token_urlsafe())
