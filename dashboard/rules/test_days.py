"""Tests in the week: what speaks against one on a day, and the days before and after games."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import counted, listed, number
from dashboard.rules.match_days import game_day_words
from db.errors import BadInput
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.plans.game_days import athlete_games, athlete_tests
from db.roster.athletes import birth_dates, list_athletes
from db.roster.measures import Measure, kind_of_effort, list_measures
from modeling.day.caution import (
    ADULT_YEARS,
    WeekRule,
    age_years,
    first_day_to_test,
    most_in_test,
    reasons_against_testing,
    rest_after_test_days,
)

HOURS_KEY, WEEK_KEY, MOST_KEY = "test_hours_before_game", "tests_in_week", "most_in_test"
USUAL_CLOCK = time(17)
FEW = 5
KIND_CAUTIONS = {
    "sprint": "Sprints: hamstrings. Build up over three runs, and stop at any tightness.",
    "throw": "Throws: shoulder and elbow. Build up from easy throws, and stop at any ache.",
}
BUILD_UP = (
    "Never cold: a general warm-up and a few submaximal efforts come first. They don't count."
)


@dataclass(frozen=True)
class AthleteDays:
    """An athlete's games and tests.

    Attributes
    ----------
    games : tuple of datetime
        Starts of games.
    tests : tuple of date
        Days with tests.
    born : date or None
    rested_from : date or None
        First day with maximal efforts of a kind again, after the last fade test of that kind;
        None without one, or if no kind was asked for.
    rest_days : int
        Whole days without maximal efforts of that kind after a fade test.
    """

    games: tuple[datetime, ...] = ()
    tests: tuple[date, ...] = ()
    born: date | None = None
    rested_from: date | None = None
    rest_days: int = 0

    def rests(self, day: date) -> bool:
        """Tell whether the last test still asks for rest on a day."""
        return self.rested_from is not None and day < self.rested_from

    def against(self, at: datetime, rule: WeekRule, fade_test: bool) -> list[str]:
        """Return in words what speaks against a test at a moment."""
        rest, hours = self._rest_after(fade_test), number(rule.hours_before_game)
        told = [
            AGAINST[reason].format(hours=hours, tests=rule.most_in_week, rest=rest)
            for reason in reasons_against_testing(at, self.games, self.tests, rule, rest)
        ]
        if self.rested_from is not None and self.rests(at.date()):
            told.append(f"rest after the last test until {dates.day(self.rested_from)}")
        return told

    def first_day(self, day: date, rule: WeekRule, fade_test: bool = False) -> date | None:
        """Return the first day, from a given one on, with nothing against a test."""
        first = max(day, self.rested_from or day)
        at = datetime.combine(first, USUAL_CLOCK)
        rest = self._rest_after(fade_test)
        return first_day_to_test(at, self.games, self.tests, rule, rest_days=rest)

    def _rest_after(self, fade_test: bool) -> int:
        return self.rest_days if fade_test else 0

    def around(self, day: date) -> str:
        """Return a day's place between games: `MD+2, MD-3`; empty if none is near."""
        return game_day_words(day, self.games)


AGAINST = {
    "game soon": "a game is less than {hours} hours away",
    "game in rest": "a game is within the {rest} days of rest after it",
    "game day": "there was a game today",
    "game yesterday": "there was a game the day before",
    "week full": "{tests} tests within a week are enough",
}


def athlete_days(store: Store, measure: Measure | None = None) -> dict[str, AthleteDays]:
    """Return games, tests and birth dates of every athlete by code.

    With a measure, add its days of rest after a fade test, and when they end.
    """
    born, rows = birth_dates(store), athlete_tests(store)
    games, tests = _by_athlete(athlete_games(store), "starts_at"), _by_athlete(rows, "day")
    rested = {} if measure is None else _rested_from(store, measure, rows)
    rest = 0 if measure is None else rest_after_test_days(kind_of_effort(measure))
    return {
        code: AthleteDays(
            tuple(at.to_pydatetime() for at in games.get(code, [])),
            tuple(dict.fromkeys(at.date() for at in tests.get(code, []))),
            born.get(code),
            rested.get(code),
            rest,
        )
        for code in list_athletes(store)["athlete"]
    }


def _rested_from(store: Store, measure: Measure, tests: pd.DataFrame) -> dict[str, date]:
    kind = kind_of_effort(measure)
    alike = {each.code for each in list_measures(store) if kind_of_effort(each) == kind}
    codes = {measure.code} if kind == "other" else alike
    fades = tests[(tests["kind"] == "fade") & tests["measure"].isin(codes)]
    rest = timedelta(days=1 + rest_after_test_days(kind))
    return {code: days[-1].date() + rest for code, days in _by_athlete(fades, "day").items()}


def _by_athlete(rows: pd.DataFrame, column: str) -> dict[str, list[pd.Timestamp]]:
    return {str(code): list(own[column]) for code, own in rows.groupby("athlete")}


def week_rule(store: Store) -> WeekRule:
    """Return when tests may be done, as a director set it, else as usual."""
    usual = WeekRule()
    return WeekRule(
        float(get_setting(store, HOURS_KEY) or usual.hours_before_game),
        int(get_setting(store, WEEK_KEY) or usual.most_in_week),
    )


def set_week_rule(store: Store, rule: WeekRule, person: str) -> None:
    """Set when tests may be done.

    Raises
    ------
    BadInput
        If it is not allowed.
    """
    if not (0 <= rule.hours_before_game <= 168 and 1 <= rule.most_in_week <= 7):
        raise BadInput("Take 0 to 168 hours before a game, and 1 to 7 tests in a week.")
    set_setting(store, HOURS_KEY, f"{rule.hours_before_game:g}", person)
    set_setting(store, WEEK_KEY, str(rule.most_in_week), person)


def most_of_measure(store: Store, measure: Measure) -> int:
    """Return an adult's most efforts in a test of a measure, as set or as usual for its kind."""
    kept = get_setting(store, f"{MOST_KEY}:{measure.code}")
    return int(kept) if kept else most_in_test(kind_of_effort(measure))


def set_most(store: Store, measure: Measure, most: int, person: str) -> None:
    """Set an adult's most efforts in a test of a measure."""
    if not 1 <= most <= 200:
        raise BadInput(f"The most efforts in a test are {most}; take 1 to 200.")
    set_setting(store, f"{MOST_KEY}:{measure.code}", str(most), person)


def is_minor(born: date | None, day: date) -> bool:
    """Tell whether somebody is under 18 on a day; no if the date of birth is missing."""
    age = age_years(born, day)
    return age is not None and age < ADULT_YEARS


def minors_among(
    known: Mapping[str, AthleteDays], names: Mapping[str, str], day: date
) -> list[str]:
    """Return the names of those under 18 on a day; if there are many, only how many."""
    minors = [name for code, name in names.items() if is_minor(known[code].born, day)]
    return minors if len(minors) <= FEW else [counted(len(minors), "athlete")]


def minor_sentence(names: Sequence[str]) -> str:
    """Return the reminder for those under 18; empty without any."""
    if not names:
        return ""
    return (
        f"Under 18: {', '.join(names)}. An adult in charge must be there and guardians must"
        " have agreed; the limits are lower (common practice; your local rules come first)."
    )


def resting_sentence(known: Mapping[str, AthleteDays], names: Mapping[str, str], day: date) -> str:
    """Return who must still rest on a day after a test; empty if nobody must."""
    told = [
        f"{names[code]} (until {dates.day(until)})"
        for code in names
        if (until := known[code].rested_from) is not None and known[code].rests(day)
    ]
    if not told:
        return ""
    return (
        f"Tested lately, so no maximal efforts of this kind: {listed(told)}. Until then"
        " only the general part with its easier efforts (common practice, no source)."
    )


def most_sentence(measure: Measure, mosts: Mapping[str, int], usual: int) -> str:
    """Return the most efforts in a test, who has fewer, and the rest that follows.

    Parameters
    ----------
    measure
        What is tested.
    mosts
        The most of each athlete by name.
    usual
        An adult's most.
    """
    days = rest_after_test_days(kind_of_effort(measure))
    most, unit = max(mosts.values(), default=usual), measure.volume_unit
    fewer = [f"{name} {few}" for name, few in mosts.items() if few < most]
    less = f" ({listed(fewer)})" if fewer else ""
    return (
        f"At most {most} {unit} in a test{less}, and {days} days without maximal ones of this kind"
        " after it (common practice, no source)."
    )


def from_day_words(day: date | None, around: str) -> str:
    """Return when somebody may be tested first: `today`, `Mon 30 Nov (MD+2)`."""
    if day is None:
        return "not within two weeks"
    when = "today" if day == date.today() else dates.day(day)
    return f"{when} ({around})" if around else when
