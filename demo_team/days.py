"""The days of the season: training, tests and games; who is out; and who is in a game's squad."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np

from demo_team.club import ACCOUNTS
from demo_team.roster import ROSTER
from modeling.day.caution import rest_after_test_days

__all__ = [
    "COMING_GAME",
    "GAME_DAYS",
    "LATE_TESTS",
    "PLANS_SINCE",
    "SEED",
    "SQUAD_SIZE",
    "TEST_MONDAYS",
    "TRAINING_DAYS",
    "Spell",
    "free_training_days",
    "game_squad",
    "is_out",
    "spells",
    "starters",
    "test_days",
]

SEED = 2026
FIRST_MONDAY = date(2026, 8, 3)
WEEKS = 16
BREAK_WEEK = 9
"""A week without a game in the middle of the season, counted from 0."""
FIRST_GAME_WEEK = 4

GAME_DAYS = [
    FIRST_MONDAY + timedelta(days=7 * week + 5)
    for week in range(FIRST_GAME_WEEK, WEEKS)
    if week != BREAK_WEEK
]
COMING_GAME = GAME_DAYS[-1] + timedelta(days=7)
TRAINING_DAYS = [
    FIRST_MONDAY + timedelta(days=7 * week + more)
    for week in range(WEEKS)
    for more in ((0, 1, 2, 3) if week < FIRST_GAME_WEEK or week == BREAK_WEEK else (0, 1, 3))
]
"""Monday, Tuesday and Thursday, and also Wednesday in weeks without a game on Saturday."""

TEST_MONDAYS = {
    "jump_height": (date(2026, 8, 10), date(2026, 9, 21), date(2026, 11, 2)),
    "throw_speed": (date(2026, 8, 17), date(2026, 10, 5), date(2026, 11, 9)),
}
LATE_TESTS = {("jump_height", "H13"): date(2026, 11, 16)}
"""Tests of athletes about whom too little was known, so that something changes in the last week."""
TEST_WEEKDAYS = {"jump_height": 3, "throw_speed": 2}
"""On how many weekdays tests are made, from Monday on.

A throwing arm rests three days, so no throwing test is later than Tuesday before a game.
"""
KINDS = {"jump_height": "jump", "throw_speed": "throw"}

PLANS_SINCE = date(2026, 11, 2)
"""Before this day everybody did the standard; from this day on each athlete gets a length."""

SQUAD_SIZE = 16
STARTERS = 7
GOALKEEPERS = ("H01", "H02")
NOT_CHOSEN = ("H25", "H26")
"""A newcomer who was measured once, and one who is not measured yet."""
SELDOM_CHOSEN = ("H08", "H13", "H19", "H23")
WITH_ACCOUNT = frozenset(account.athlete for account in ACCOUNTS)
"""Athletes with a sample account: they start in the coming game, so it shows when they sign in."""
LEFT_ON = {"H24": date(2026, 10, 9)}

CHANCE_OF_PAIN = 0.004
LAST_PAIN = date(2026, 11, 7)
"""The last day on which pain may begin, so everybody is well when the season of the files ends."""
PAINS = ("sore knee", "ankle hurts", "tight hamstring", "sore shoulder", "lower back")


@dataclass(frozen=True)
class Spell:
    """Days on which an athlete is out, after answering on the first of them that there is pain.

    Attributes
    ----------
    first, fit_again : date
        The day of the answer, and the day on which staff said that all is well.
    reason : str
    """

    first: date
    fit_again: date
    reason: str


@cache
def spells(athlete: str) -> tuple[Spell, ...]:
    """Draw when an athlete is out and not measured: from an answer of pain until all is well."""
    rng = np.random.default_rng([SEED, 1, _number(athlete)])
    found: list[Spell] = []
    for day in sorted(TRAINING_DAYS + GAME_DAYS):
        hurts = rng.random() < CHANCE_OF_PAIN and day <= LAST_PAIN
        if hurts and not any(spell.first <= day < spell.fit_again for spell in found):
            reason, days = str(rng.choice(PAINS)), int(rng.integers(5, 13))
            found.append(Spell(day, day + timedelta(days=days), reason))
    return tuple(found)


def is_out(athlete: str, day: date) -> bool:
    """Tell whether an athlete is out on a day, or has left the club."""
    left = day > LEFT_ON.get(athlete, date.max)
    return left or any(spell.first <= day < spell.fit_again for spell in spells(athlete))


def test_days(measure: str, athlete: str, tests: int) -> list[date]:
    """List the days of an athlete's planned fade tests, except those on which they are out."""
    later = timedelta(days=_number(athlete) % TEST_WEEKDAYS[measure])
    days = [monday + later for monday in TEST_MONDAYS[measure][:tests]]
    return [day for day in days if not is_out(athlete, day)]


def free_training_days(measure: str, athlete: str, tests: list[date]) -> list[date]:
    """List the training days on which an athlete can be measured: neither out nor just tested."""
    rest = timedelta(days=rest_after_test_days(KINDS[measure]))
    return [
        day
        for day in TRAINING_DAYS
        if not is_out(athlete, day) and not any(test <= day <= test + rest for test in tests)
    ]


@cache
def game_squad(day: date) -> tuple[str, ...]:
    """Draw the squad of a game from those who are not out: goalkeepers and others, 16 in all."""
    rng = np.random.default_rng([SEED, 2, day.toordinal()])
    able = [player.athlete for player in ROSTER if not is_out(player.athlete, day)]
    field = [code for code in able if code not in (*GOALKEEPERS, *NOT_CHOSEN)]
    keepers = [code for code in able if code in GOALKEEPERS]
    weights = np.array([0.15 if code in SELDOM_CHOSEN else 1.0 for code in field])
    many = SQUAD_SIZE - len(keepers)
    chosen = rng.choice(len(field), size=many, replace=False, p=weights / weights.sum())
    return tuple(sorted([*keepers, *_sure([field[place] for place in chosen], field, day)]))


def starters(day: date) -> tuple[str, ...]:
    """Draw who starts from a game's squad: a goalkeeper and six others."""
    squad = game_squad(day)
    rng = np.random.default_rng([SEED, 3, day.toordinal()])
    keepers = [code for code in squad if code in GOALKEEPERS]
    field = [code for code in squad if code not in keepers]
    chosen = rng.choice(len(field), size=STARTERS - 1, replace=False)
    return tuple(sorted([*keepers[:1], *_sure([field[place] for place in chosen], field, day)]))


def _sure(drawn: list[str], field: list[str], day: date) -> list[str]:
    """For the coming game, put athletes with an account in place of the first who were drawn."""
    missing = [code for code in field if code in WITH_ACCOUNT and code not in drawn]
    return missing + drawn[len(missing) :] if day == COMING_GAME else drawn


def _number(athlete: str) -> int:
    return [player.athlete for player in ROSTER].index(athlete)
