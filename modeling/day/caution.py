"""Limits and waits that protect athletes: plain arithmetic that never asks a model.

All of them are common practice, no source; a club's medical staff and local rules come first.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import isfinite

__all__ = [
    "ADULT_YEARS",
    "COLD_C",
    "HOT_C",
    "WeekRule",
    "age_years",
    "days_between_games",
    "first_day_to_test",
    "most_at_age",
    "most_efforts",
    "most_in_test",
    "reasons_against_testing",
    "rest_after_test_days",
]

ADULT_YEARS = 18
MINOR_SHARE = 0.6
"""Share of an adult's most, for athletes under 18."""
MOST_EFFORTS = {"jump": 25, "sprint": 15, "throw": 40}
"""Maximal efforts before a game, or in a day, over all measures of a kind."""
MOST_IN_TEST = {"jump": 80, "sprint": 12, "throw": 60}
"""Maximal efforts in one test: sprints spare the hamstrings, throws the shoulder."""
REST_AFTER_TEST_DAYS = {"jump": 2, "sprint": 3, "throw": 3}
"""Whole days without maximal efforts of the kind after a test that went to its end."""
OTHER_KIND = "jump"
HOT_C = 30.0
COLD_C = 10.0


@dataclass(frozen=True)
class WeekRule:
    """When tests may be done around games.

    Attributes
    ----------
    hours_before_game : float
        No test within so many hours before a game starts.
    most_in_week : int
        Most tests of an athlete in seven days.
    """

    hours_before_game: float = 48.0
    most_in_week: int = 2


def age_years(born: date | None, day: date) -> int | None:
    """Return whole years of age on a day; None where the date of birth is not known."""
    if born is None:
        return None
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def most_efforts(kind: str) -> int:
    """Return an adult's most maximal efforts before a game or in a day.

    Parameters
    ----------
    kind : str
        jump, sprint or throw; any other counts as a jump.
    """
    return MOST_EFFORTS.get(kind, MOST_EFFORTS[OTHER_KIND])


def most_in_test(kind: str) -> int:
    """Return an adult's most maximal efforts in one test; kinds as for `most_efforts`."""
    return MOST_IN_TEST.get(kind, MOST_IN_TEST[OTHER_KIND])


def most_at_age(most: float, age: int | None) -> float:
    """Return the most at an age, in whole efforts: under 18, six tenths of an adult's `most`.

    An age that is not known (None) counts as an adult's; `most` may be infinite.
    """
    minor = age is not None and age < ADULT_YEARS
    return float(round(MINOR_SHARE * most)) if minor and isfinite(most) else most


def rest_after_test_days(kind: str) -> int:
    """Return how many whole days without maximal efforts of the kind follow a test."""
    return REST_AFTER_TEST_DAYS.get(kind, REST_AFTER_TEST_DAYS[OTHER_KIND])


def reasons_against_testing(
    at: datetime,
    games: Sequence[datetime],
    tests: Sequence[date],
    week: WeekRule,
    rest_days: int = 0,
) -> tuple[str, ...]:
    """Return the reasons against a test at a moment; empty if there are none.

    Parameters
    ----------
    at : datetime
        When the test would be, local wall time.
    games : sequence of datetime
        Starts of games around it.
    tests : sequence of date
        Days of the athlete's other tests.
    week : WeekRule
    rest_days : int
        Whole days of rest that follow it (`rest_after_test_days`); no game should fall into them.

    Returns
    -------
    tuple of str
        Any of `game soon`, `game in rest`, `game day`, `game yesterday` and `week full`.
    """
    ahead = timedelta(hours=week.hours_before_game)
    soon = any(at < game < at + ahead for game in games)
    days = {game.date() for game in games}
    near = sum(abs((at.date() - day).days) < 7 for day in set(tests) if day <= at.date())
    found = {
        "game soon": soon,
        "game in rest": not soon and any(0 < (day - at.date()).days <= rest_days for day in days),
        "game day": at.date() in days and not soon,
        "game yesterday": at.date() - timedelta(days=1) in days,
        "week full": near >= week.most_in_week,
    }
    return tuple(reason for reason, holds in found.items() if holds)


def first_day_to_test(
    at: datetime,
    games: Sequence[datetime],
    tests: Sequence[date],
    week: WeekRule,
    within_days: int = 14,
    rest_days: int = 0,
) -> date | None:
    """Return the first day from `at` on, at the same hour, that nothing speaks against.

    None if there is none within so many days; parameters as for `reasons_against_testing`.
    """
    moments = (at + timedelta(days=ahead) for ahead in range(within_days))
    free = (at for at in moments if not reasons_against_testing(at, games, tests, week, rest_days))
    return next((at.date() for at in free), None)


def days_between_games(day: date, game_days: Collection[date]) -> tuple[int | None, int | None]:
    """Return the days since the last game and until the next: (MD+, MD-); 0 on a game's day.

    On the day of a game the first is 0 and the second None.
    """
    if day in game_days:
        return 0, None
    since = min(((day - game).days for game in game_days if game < day), default=None)
    until = min(((game - day).days for game in game_days if game > day), default=None)
    return since, until
