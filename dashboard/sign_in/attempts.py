"""Rate-limit password guesses without locking out the owner.

Attempts are counted by name and address together, by address, and by name over all addresses.
A browser in which this person has signed in before (the store knows its cookie) is counted by
itself, so nobody else's attempts keep the person out there. Waits grow up to a limit. Counts
are held in memory.

* One address: 5 free attempts at a name, then waits of 2, 4, 8 ... up to 300 seconds. In browsers
  new to the name, others have to wait for at most 60 of every 300 seconds because of it.
* Many addresses: 20 free attempts at a name, then up to 60 seconds between any two: fewer than
  100 guesses an hour, as OWASP's ASVS asks (2.2.1).
* One address at many names: 20 free attempts, then the waits of 2 to 300 seconds.

What remains: while many addresses guess at a name without a pause, its owner may not get in from
a new browser, but can from one that they have used before. People who share the guesser's address,
and have never signed in with that browser, wait too. A restart of the dashboard forgets all
counts.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

LONGEST_WAIT_SECONDS = 300.0
LONGEST_WAIT_FOR_ALL_SECONDS = 60.0
FORGET_AFTER_SECONDS = 900.0
MOST_KEYS = 10_000
LONGEST_NAME = 64
FREE_ATTEMPTS = 5
FREE_ATTEMPTS_OF_MANY = 20


@dataclass(frozen=True)
class Subject:
    """Whose attempts are counted, with some free attempts and a longest wait."""

    name: str
    free_attempts: int
    longest_wait_seconds: float = LONGEST_WAIT_SECONDS


def subjects_of(name: str, address: str, browser: str | None = None) -> tuple[Subject, ...]:
    """Return what an attempt is counted under; success clears the first of these.

    Parameters
    ----------
    name : str
        The sign-in name as typed.
    address : str
        Where the request comes from.
    browser : str or None
        The store's id of a browser in which this person has signed in before.
    """
    name = name[:LONGEST_NAME]
    if browser is not None:
        return (Subject(f"browser {browser}", FREE_ATTEMPTS),)
    return (
        Subject(f"person {name} at {address}", FREE_ATTEMPTS),
        Subject(f"address {address}", FREE_ATTEMPTS_OF_MANY),
        Subject(f"person {name}", FREE_ATTEMPTS_OF_MANY, LONGEST_WAIT_FOR_ALL_SECONDS),
    )


@dataclass(frozen=True)
class _Count:
    attempts: int
    last_at: float

    def ready_at(self, subject: Subject) -> float:
        """Return when the next attempt may be made: after 2, 4, 8 ... seconds."""
        over = self.attempts - subject.free_attempts
        if over < 0:
            return self.last_at
        # No longest wait reaches 2^20 seconds, and a float cannot hold 2^1024.
        return self.last_at + min(2.0 ** min(over + 1, 20), subject.longest_wait_seconds)


NO_ATTEMPTS = _Count(0, float("-inf"))


class Attempts:
    """Counts attempts by person and by address, and says how long to wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._counts: OrderedDict[str, _Count] = OrderedDict()
        self._lock = Lock()

    def take(self, *subjects: Subject) -> float:
        """Count one attempt of all `subjects` and return 0, or return the seconds to wait.

        The attempt is counted before its password is checked, so attempts sent in parallel
        do not slip through together. `succeeded` clears a person's count.
        """
        now = self._clock()
        with self._lock:
            wait_seconds = max(
                self._count(subject.name, now).ready_at(subject) - now for subject in subjects
            )
            if wait_seconds > 0:
                return wait_seconds
            for subject in subjects:
                self._raise(subject.name, now)
            return 0.0

    def succeeded(self, subject: Subject) -> None:
        """Clear the count of a subject whose attempt succeeded."""
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
