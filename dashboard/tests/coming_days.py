"""Tests spread over the coming days, as games, rest and the room in a session allow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import Row, counted, listed
from dashboard.rules.test_days import AthleteDays
from dashboard.tests.next_test_words import takes, test_name
from modeling.day.caution import WeekRule

AHEAD = timedelta(days=14)
ANEW = (
    "A second or third test is only needed if the call isn't firm by then. This list is updated"
    " after every test."
)


@dataclass(frozen=True)
class ComingTest:
    """A test and its day.

    Attributes
    ----------
    row : Row
        The athlete and the test: a row of `dashboard.fits.next_tests.listed_tests`.
    number, of : int
        Which of how many such tests until a firm call; 1 of 1 if no firm call is in sight.
    day : date or None
        None if no day is free within two weeks.
    """

    row: Row
    number: int
    of: int
    day: date | None


def spread_tests(
    rows: pd.DataFrame,
    known: Mapping[str, AthleteDays],
    rule: WeekRule,
    rest_days: int,
    most_in_session: int,
    today: date,
) -> list[ComingTest]:
    """Give each test a day: everybody's first before anybody's second, most worth first.

    Parameters
    ----------
    rows : DataFrame
        As `dashboard.fits.next_tests.listed_tests`.
    known : mapping
        Games and tests by athlete.
    rule : WeekRule
    rest_days : int
        Days of rest after a fade test before the athlete's next test.
    most_in_session : int
        Athletes who can be tested in one day.
    today : date

    Returns
    -------
    list of ComingTest
        Sorted by day; tests without a day come last.
    """
    room, own = Counter[date](), dict(known)
    free_from = dict.fromkeys(rows["athlete"], today)
    wanted = rows["sessions_to_firm_call"].fillna(1).clip(lower=1).astype(int)
    coming: list[ComingTest] = []
    for number in range(1, max(wanted, default=0) + 1):
        for row, of in zip(rows.to_dict("records"), wanted, strict=True):
            if number > of:
                continue
            code = row["athlete"]
            begin, fade = (own[code], free_from[code]), row["kind"] == "fade"
            day = _first_with_room(*begin, rule, fade, room, most_in_session, today)
            if day is not None:
                room[day] += 1
                own[code] = replace(own[code], tests=(*own[code].tests, day))
                rest = rest_days if fade else 0
                free_from[code] = day + timedelta(days=1 + rest)
            if day is not None or number == 1:
                coming.append(ComingTest(row, number, of, day))
    return sorted(coming, key=lambda test: test.day or date.max)


def _first_with_room(
    days: AthleteDays,
    day: date | None,
    rule: WeekRule,
    fade_test: bool,
    room: Counter[date],
    most_in_session: int,
    today: date,
) -> date | None:
    while day is not None and (day := days.first_day(day, rule, fade_test)) is not None:
        if day >= today + AHEAD:
            return None
        if room[day] < most_in_session:
            return day
        day += timedelta(days=1)
    return None


def total_sentence(coming: Sequence[ComingTest]) -> str:
    """Return how many tests there are on how many days, and how many efforts they take."""
    given = [test for test in coming if test.day is not None]
    efforts = [test.row["takes"] for test in given]
    cost = "" if any(map(pd.isna, efforts)) else f", about {round(sum(efforts))} maximal efforts"
    return (
        f"{counted(len(given), 'test')} of"
        f" {counted(len({test.row['athlete'] for test in given}), 'athlete')} on"
        f" {counted(len({test.day for test in given}), 'day')}{cost}."
    )


def day_lines(
    coming: Sequence[ComingTest], known: Mapping[str, AthleteDays], unit: str
) -> list[str]:
    """Return a line for each day with who does which test, then one for those without a day."""
    lines = []
    for day in sorted({test.day for test in coming if test.day is not None}):
        here = [test for test in coming if test.day == day]
        around = {known[test.row["athlete"]].around(day) for test in here} - {""}
        near = f" ({listed(sorted(around))})" if around else ""
        told = "; ".join(_test_words(test, unit) for test in here)
        lines.append(f"**{dates.day(day)}{near}**: {told}")
    if without := [test.row["name"] for test in coming if test.day is None]:
        lines.append(f"No day within two weeks: {listed(without)}")
    return lines


def _test_words(test: ComingTest, unit: str) -> str:
    cost = f", about {takes(test.row)}" if test.row["kind"] == "fade" and takes(test.row) else ""
    place = f" (test {test.number} of {test.of})" if test.of > 1 else ""
    return f"{test.row['name']}, {test_name(test.row, unit)}{cost}{place}"
