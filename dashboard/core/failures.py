"""What people are told when something breaks, and what goes into the log.

The log is standard error. What people read has no traceback. Neither names anybody.
"""

from __future__ import annotations

import errno
import hashlib
import os
import time
from pathlib import Path
from threading import Lock
from traceback import extract_tb, format_exception, format_tb

from dashboard.core.events import log_fault

LOGGED_AGAIN_SECONDS = 60.0
"""A part of a page that runs by itself twice a second must not fill the log."""
SAFE = "Everything saved is safe."

_logged_at: dict[str, float] = {}
_log_lock = Lock()


def known_problem(error: BaseException) -> tuple[str, str] | None:
    """Return the title and sentence of an error that people should read; None for our own fault."""
    from db.errors import StoreError
    from modeling.errors import ModelError

    if isinstance(error, StoreError):
        return error.title, error.message
    if isinstance(error, ModelError):
        return "This cannot be worked out", str(error)
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "The disk is full", f"There is no room left on the disk. {SAFE} Make room first."
    return None


def for_anybody(sentence: str) -> str:
    """Remove the store's folder from a sentence, as people who are not signed in may read it."""
    from db.file.store import default_path

    path = default_path()
    folders = {str(each.parent) for each in (path, path.absolute(), path.resolve())}
    for folder in sorted(folders - {".", path.anchor}, key=len, reverse=True):
        sentence = sentence.replace(f"{folder}{os.sep}", "")
    return sentence


def failure_sentences(
    what: str, next_step: str, number: str, explained: str = "the log explains it"
) -> str:
    """Say that a fault stopped something, that nothing saved is lost, and what to do."""
    return (
        f"A fault in warmcurve stopped {what}. {SAFE} {next_step} If it happens again, report "
        f"fault {number}: {explained}."
    )


def number_of(error: BaseException) -> str:
    """Return six digits that are the same each time the same line fails in the same way."""
    places = extract_tb(error.__traceback__)
    lines = [f"{'/'.join(Path(at.filename).parts[-2:])}:{at.lineno}" for at in places]
    digest = hashlib.sha256("\n".join([type(error).__qualname__, *lines]).encode()).digest()
    return f"{int.from_bytes(digest[:8], 'big') % 1_000_000:06d}"


def log_failure(error: BaseException) -> str:
    """Write a traceback into the log, dated and under its number, and return the number.

    The same failure is written at most once in `LOGGED_AGAIN_SECONDS`.
    """
    number, now = number_of(error), time.monotonic()
    with _log_lock:
        lately = now - _logged_at.get(number, -LOGGED_AGAIN_SECONDS) < LOGGED_AGAIN_SECONDS
        if not lately:
            _logged_at[number] = now
            log_fault(number, _trace(error))
    return number


def debugging() -> bool:
    """Tell whether the operator asked for every detail of a failure."""
    return bool(os.environ.get("WARMCURVE_DEBUG"))


def _trace(error: BaseException) -> str:
    """Return a traceback without the errors' messages, which may quote somebody's notes."""
    if debugging():
        return "".join(format_exception(error))
    context = None if error.__suppress_context__ else error.__context__
    before = error.__cause__ or context
    lines = "".join(format_tb(error.__traceback__))
    return (
        f"{_trace(before) if before else ''}Traceback (most recent call last):\n{lines}"
        f"{type(error).__qualname__} (WARMCURVE_DEBUG=1 logs what it says)\n"
    )


def told_of(error: BaseException, what: str, next_step: str) -> str:
    """Return what to tell people about any error, and log it if it is a fault."""
    problem = known_problem(error)
    return problem[1] if problem else failure_sentences(what, next_step, log_failure(error))
