"""The log of a server: one dated line for each event, for people or for programs.

Without a form, as in commands at a terminal, events are not logged and sentences stay as they
are. Lines name nobody: a person appears as an id that only the store can match to a person.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from threading import Lock
from typing import TYPE_CHECKING, Literal, get_args

if TYPE_CHECKING:
    from db.file.store import Store

Form = Literal["text", "json"]
FORMS: tuple[Form, ...] = get_args(Form)
FORM = "WARMCURVE_LOG"
"""The environment variable that says how a server logs; processes that it starts read it too."""
SIGNS = 8

NAMES = {"import efforts": "import", "keep fit": "fit"}
"""Names of events, by the action in the trail, where the two differ."""
Heard = Callable[[str], None]

_form: Form | None = None
_turn = Lock()
_heard: list[Heard] = []


@contextmanager
def logging_as(form: Form | None) -> Iterator[None]:
    """Log in this form within the block, here and in processes started there; None logs nothing."""
    before = _form
    _log_as(form)
    try:
        yield
    finally:
        _log_as(before)


def _log_as(form: Form | None) -> None:
    global _form
    _form = form
    if form is None:
        os.environ.pop(FORM, None)
    else:
        os.environ[FORM] = form


def is_logging() -> bool:
    """Tell whether this process logs events."""
    return _form is not None


def log_as_told() -> None:
    """Log in the same way as the process that started this one."""
    _log_as(next((form for form in FORMS if form == os.environ.get(FORM)), None))


def hear_events(heard: Heard) -> None:
    """Call `heard` with the name of every event of this process, whether or not it is logged."""
    _heard[:] = [heard]


def log_writes(store: Store) -> None:
    """Log every write to the store from now on, and every long wait for it."""
    from db.file.transactions import note_writes
    from db.file.waits import note_waits

    store_id = store.state().store_id

    def noted(person: str, action: str, revision: int) -> None:
        event = NAMES.get(action, action.replace(" ", "-"))
        log_event(event, account=account_id(store_id, person), revision=revision)

    note_writes(noted)
    note_waits(lambda: log_event("wait-for-store"))


def log_event(event: str, **facts: str | int | float | None) -> None:
    """Log an event with facts that name nobody; facts that are None are left out."""
    for heard in _heard:
        heard(event)
    known = {name: fact for name, fact in facts.items() if fact is not None}
    if _form == "json":
        _write(json.dumps({"at": _now(), "event": event, **known}, ensure_ascii=False))
    elif _form == "text":
        _write(" ".join([_now(), event, *(f"{name}={fact}" for name, fact in known.items())]))


def tell(sentence: str) -> None:
    """Tell the operator something: as it is at a terminal, otherwise as a line of the log."""
    if _form == "json":
        log_event("notice", text=sentence)
    else:
        _write(f"{_now()} {sentence}" if _form == "text" else sentence)


def log_fault(number: str, trace: str) -> None:
    """Write a traceback under its number; it is dated whether or not there is a log."""
    if _form == "json":
        log_event("fault", number=number, trace=trace)
        return
    for heard in _heard:
        heard("fault")
    _write(f"{_now()} Fault {number}\n{trace.rstrip()}")


def account_id(store_id: str, person: str) -> str:
    """Return the id of a person in the log, which nobody can trace back without the store.

    For anything that is not an account, such as `curves (by themselves)`, this is the text in
    brackets. The text before it is left out, as it may be an account of the machine.
    """
    if "(" in person:
        return person.partition("(")[2].rstrip(")").replace(" ", "-")
    return hashlib.sha256(f"{store_id}\n{person}".encode()).hexdigest()[:SIGNS]


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


def _write(line: str) -> None:
    with _turn:
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()
