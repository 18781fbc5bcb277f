"""Signed-in browsers: each has a random token in a cookie, and the store knows its SHA-256."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections import OrderedDict
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from threading import Lock

from db.file.store import Store, default_path
from db.people.accounts import Person, SignIn, open_web_session, person_of_web_session, sign_ins

LIFETIME = timedelta(days=7)
REMEMBER_SECONDS = 60.0
MOST_REMEMBERED = 2_000
WAIT_SECONDS = 30.0
"""Long, because a page says that it waits, and storing an entry late is better than refusing it."""


@dataclass(frozen=True)
class _Answer:
    revision: int
    given_at: float
    person: Person | None


_answers: OrderedDict[tuple[str, str], _Answer] = OrderedDict()
_answers_lock = Lock()


def running_store() -> Store:
    """Return the store of the running dashboard."""
    return Store(default_path(), WAIT_SECONDS)


def session_id(token: str) -> str:
    """Return the SHA-256 by which the store knows a cookie's token."""
    return hashlib.sha256(token.encode()).hexdigest()


def form_token(sid: str) -> str:
    """Return the token that a form of a signed-in browser must carry."""
    return hashlib.sha256(f"form of {sid}".encode()).hexdigest()


def open_session(store: Store, person: Person) -> str:
    """Open a web session that lasts `LIFETIME` and return its token."""
    token = secrets.token_urlsafe(32)
    open_web_session(store, person.person, session_id(token), _now() + LIFETIME)
    return token


def person_of(store: Store, sid: str) -> Person | None:
    """Return the active person of an open web session, or None.

    The store is asked again as soon as anything was written to it, so a sign-out, a changed
    role or a deactivation takes effect on the next request, and an expiry within a minute.
    """
    key, revision, now = (str(store.path), sid), store.revision(), time.monotonic()
    with _answers_lock:
        answer = _answers.get(key)
    if answer and answer.revision == revision and now - answer.given_at < REMEMBER_SECONDS:
        return answer.person
    person = person_of_web_session(store, sid, _now())
    with _answers_lock:
        _answers[key] = _Answer(revision, now, person)
        _answers.move_to_end(key)
        while len(_answers) > MOST_REMEMBERED:
            _answers.popitem(last=False)
    return person


def own_sign_ins(store: Store, person: Person) -> list[SignIn]:
    """Return the open web sessions of a person, newest first."""
    return sign_ins(store, person.person, _now())


def _now() -> datetime:
    return datetime.now(UTC)
