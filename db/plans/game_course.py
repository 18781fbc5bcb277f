"""How a game runs: what its planning needs to know beside place and clock."""

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
        Between two of the efforts to follow.
    half_time_minutes : float
        0 without one.
    rolling : bool
        Whether substitutes come and go.
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
    """Give a usual course with half-time and substitutions as in the game that was saved last."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT half_time_minutes, rolling FROM game_course ORDER BY game_id DESC LIMIT 1"
        ).fetchone()
    if row is None:
        return usual
    return replace(usual, half_time_minutes=float(row[0]), rolling=bool(row[1]))


def check_course(course: Course, first_start: datetime) -> None:
    """Refuse what cannot be.

    Raises
    ------
    BadInput
        If a time is out of range, or the earlier game is not over or of another day.
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
