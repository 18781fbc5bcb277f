"""How a game runs: what planning needs besides its place and times."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from db.errors import BadInput
from db.file.store import Store

__all__ = [
    "LONGEST_HALF_TIME_MINUTES",
    "MOST_RECOVERY_SECONDS",
    "Course",
    "check_course",
    "last_course",
]

MOST_RECOVERY_SECONDS = 3600.0
LONGEST_HALF_TIME_MINUTES = 60.0


@dataclass(frozen=True)
class Course:
    """How a game runs.

    Attributes
    ----------
    recovery_seconds : float
        Recovery between two of the efforts to follow.
    half_time_minutes : float
        Length of half-time; 0 without one.
    rolling : bool
        Whether substitutions are rolling, so that players come and go.
    earlier_ended_at : datetime or None
        When an earlier game of the day ended.
    """

    recovery_seconds: float = 0.0
    half_time_minutes: float = 0.0
    rolling: bool = False
    earlier_ended_at: datetime | None = None

    @property
    def second_game(self) -> bool:
        """Whether this is the second game of its day."""
        return self.earlier_ended_at is not None


def last_course(store: Store, usual: Course) -> Course:
    """Return the usual course, but with half-time and substitutions as in the last saved game."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT half_time_minutes, rolling FROM game_course ORDER BY game_id DESC LIMIT 1"
        ).fetchone()
    if row is None:
        return usual
    return replace(usual, half_time_minutes=float(row[0]), rolling=bool(row[1]))


def check_course(course: Course, first_start: datetime) -> None:
    """Refuse a course that is not possible.

    Raises
    ------
    BadInput
        If a time is out of range, or the earlier game ends too late or on another day.
    """
    if not 0 <= course.recovery_seconds <= MOST_RECOVERY_SECONDS:
        raise BadInput(
            f"The recovery is {course.recovery_seconds:g} s; it must be 0 to"
            f" {MOST_RECOVERY_SECONDS:g} s."
        )
    if not 0 <= course.half_time_minutes <= LONGEST_HALF_TIME_MINUTES:
        raise BadInput(
            f"Half-time is {course.half_time_minutes:g} minutes; it must be 0 to"
            f" {LONGEST_HALF_TIME_MINUTES:g}."
        )
    earlier = course.earlier_ended_at
    if earlier is not None and not (earlier < first_start and earlier.date() == first_start.date()):
        raise BadInput(
            f"The earlier game ended at {earlier:%H:%M}. That must be before the start at"
            f" {first_start:%H:%M}, on the same day."
        )
