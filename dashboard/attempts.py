"""Slowing down whoever guesses passwords: growing waits, kept in memory and bounded."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

LONGEST_WAIT_SECONDS = 300.0
FORGET_AFTER_SECONDS = 900.0
MOST_KEYS = 10_000


@dataclass(frozen=True)
class Subject:
    """Whose attempts are counted: a person or an address, with some free attempts."""

    name: str
    free_attempts: int


@dataclass(frozen=True)
class _Count:
    attempts: int
    last_at: float

    def ready_at(self, free_attempts: int) -> float:
        """Return when the next attempt may be made: after 2, 4, 8 ... seconds."""
        over = self.attempts - free_attempts
        return self.last_at + (min(2.0 ** (over + 1), LONGEST_WAIT_SECONDS) if over >= 0 else 0.0)


NO_ATTEMPTS = _Count(0, float("-inf"))


class Attempts:
    """Counts attempts by person and by address, and says how long to wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._counts: OrderedDict[str, _Count] = OrderedDict()
        self._lock = Lock()

    def take(self, *subjects: Subject) -> float:
        """Count one attempt of all `subjects` and return 0, or return the seconds to wait.

        The attempt is counted before its password is looked at, so that attempts sent side
        by side do not slip through together. `succeeded` takes a person's count back.
        """
        now = self._clock()
        with self._lock:
            wait_seconds = max(
                self._count(subject.name, now).ready_at(subject.free_attempts) - now
                for subject in subjects
            )
            if wait_seconds > 0:
                return wait_seconds
            for subject in subjects:
                self._raise(subject.name, now)
            return 0.0

    def succeeded(self, subject: Subject) -> None:
        """Forget the attempts of a subject that has shown who they are."""
        with self._lock:
            self._counts.pop(subject.name, None)

    def _count(self, name: str, now: float) -> _Count:
        count = self._counts.get(name, NO_ATTEMPTS)
        return count if now - count.last_at < FORGET_AFTER_SECONDS else NO_ATTEMPTS

    def _raise(self, name: str, now: float) -> None:
        self._counts[name] = _Count(self._count(name, now).attempts + 1, now)
        self._counts.move_to_end(name)
        while len(self._counts) > MOST_KEYS:
            self._counts.popitem(last=False)
