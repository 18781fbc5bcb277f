from __future__ import annotations

from datetime import date, datetime
from math import inf

import pytest

from modeling.day.caution import (
    WeekRule,
    age_years,
    days_between_games,
    first_day_to_test,
    most_at_age,
    most_efforts,
    most_in_test,
    reasons_against_testing,
    rest_after_test_days,
)

SATURDAY = datetime(2026, 11, 28, 19)
WEEK = WeekRule()


@pytest.mark.parametrize(
    ("day", "age"),
    [(date(2026, 3, 17), 17), (date(2026, 3, 18), 18), (date(2024, 2, 29), 15)],
)
def test_age_turns_on_the_birthday(day: date, age: int) -> None:
    assert age_years(date(2008, 3, 18), day) == age
    assert age_years(None, day) is None


def test_limits_depend_on_the_kind_and_are_lower_under_18() -> None:
    assert [most_efforts(kind) for kind in ("jump", "sprint", "throw", "other")] == [25, 15, 40, 25]
    assert [most_at_age(most, 17) for most in (25, 15, 40, inf)] == [15, 9, 24, inf]
    assert [most_at_age(25, age) for age in (18, None)] == [25, 25]
    # Fewer sprints and a longer rest spare the hamstrings; fewer throws spare the shoulder.
    assert most_in_test("sprint") < most_in_test("throw") < most_in_test("jump")
    assert rest_after_test_days("sprint") > rest_after_test_days("jump")


@pytest.mark.parametrize(
    ("at", "tests", "expected"),
    [
        (datetime(2026, 11, 26, 19), [], ()),
        (datetime(2026, 11, 26, 19, 1), [], ("game soon",)),
        (datetime(2026, 11, 28, 10), [], ("game soon",)),
        (datetime(2026, 11, 28, 21), [], ("game day",)),
        (datetime(2026, 11, 29, 12), [], ("game yesterday",)),
        (datetime(2026, 11, 30, 12), [], ()),
        (datetime(2026, 11, 30, 12), [date(2026, 11, 24), date(2026, 11, 25)], ("week full",)),
        (datetime(2026, 11, 30, 12), [date(2026, 11, 23), date(2026, 11, 25)], ()),
    ],
)
def test_what_speaks_against_a_test(
    at: datetime, tests: list[date], expected: tuple[str, ...]
) -> None:
    assert reasons_against_testing(at, [SATURDAY], tests, WEEK) == expected


def test_no_game_falls_into_the_rest_after_a_test() -> None:
    thursday, wednesday = datetime(2026, 11, 26, 9), datetime(2026, 11, 25, 9)
    assert reasons_against_testing(thursday, [SATURDAY], [], WEEK) == ()
    assert reasons_against_testing(thursday, [SATURDAY], [], WEEK, 2) == ("game in rest",)
    assert reasons_against_testing(wednesday, [SATURDAY], [], WEEK, 2) == ()
    assert reasons_against_testing(wednesday, [SATURDAY], [], WEEK, 3) == ("game in rest",)
    first = first_day_to_test(thursday, [SATURDAY], [], WEEK, rest_days=2)
    assert first == date(2026, 11, 30)


def test_the_first_day_that_is_free_comes_after_the_game() -> None:
    at = datetime(2026, 11, 27, 17)
    assert first_day_to_test(at, [SATURDAY], [], WEEK) == date(2026, 11, 30)
    assert first_day_to_test(at, [], [], WEEK) == date(2026, 11, 27)
    assert first_day_to_test(at, [SATURDAY], [], WEEK, within_days=2) is None


def test_days_to_and_from_games() -> None:
    games = {date(2026, 11, 21), date(2026, 11, 28)}
    assert days_between_games(date(2026, 11, 27), games) == (6, 1)
    assert days_between_games(date(2026, 11, 28), games) == (0, None)
    assert days_between_games(date(2026, 11, 29), games) == (1, None)
    assert days_between_games(date(2026, 11, 29), set()) == (None, None)
