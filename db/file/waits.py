"""Wait a limited time for a store that others are using, and report such waits."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

SAID_AFTER_SECONDS = 1.0

Tell = Callable[[str], None]
_told: ContextVar[Tell | None] = ContextVar("told of waits", default=None)
_told_otherwise: list[Tell] = []
_noted: list[Callable[[], None]] = []


@contextmanager
def telling_of_waits(tell: Tell) -> Iterator[None]:
    """Report each wait of the work inside, once.

    Parameters
    ----------
    tell : callable
        Takes a sentence; called as soon as a wait has lasted `SAID_AFTER_SECONDS`.
    """
    before = _told.set(tell)
    try:
        yield
    finally:
        _told.reset(before)


def tell_otherwise(tell: Tell) -> None:
    """Report the waits of this process that nobody else is told about."""
    _told_otherwise[:] = [tell]


def note_waits(noted: Callable[[], None]) -> None:
    """Call a function for every wait of this process that lasts `SAID_AFTER_SECONDS`."""
    _noted[:] = [noted]


class Wait:
    """A wait with a time limit, which begins when the object is made."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self._began = time.monotonic()
        self._tell = _told.get() or next(iter(_told_otherwise), None)
        self._is_noted = False

    @property
    def left(self) -> float:
        """Seconds left; zero when the time is up."""
        return max(0.0, self._began + self.seconds - time.monotonic())

    def pause(self, what_for: str) -> None:
        """Sleep for a short random time, so that waiting processes do not try in step."""
        if not self._quietly_left:
            self._say(what_for)
        time.sleep(random.uniform(0.005, 0.05))

    def take(self, turn: threading.Lock | threading.Condition, what_for: str) -> bool:
        """Take a lock if it comes free in time, and return whether it did."""
        if turn.acquire(timeout=min(self.left, self._quietly_left)):
            return True
        self._say(what_for)
        return turn.acquire(timeout=self.left)

    @property
    def _quietly_left(self) -> float:
        return max(0.0, self._began + SAID_AFTER_SECONDS - time.monotonic())

    def _say(self, what_for: str) -> None:
        if not self._is_noted:
            self._is_noted = True
            for noted in _noted:
                noted()
        if self._tell is not None and self.left:
            self._tell(f"{what_for} This waits for it, {self.seconds:g} seconds at most.")
            self._tell = None
