"""A day's place between games in the usual notation: MD-1 is the day before a game."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from dashboard.core import dates
from dashboard.core.numbers import counted, listed
from modeling.day.caution import days_between_games

if TYPE_CHECKING:
    from dashboard.rules.test_days import AthleteDays

NEAR_DAYS = 7
"""Games farther away are left out (common practice, no source)."""
MEANING = (
    "MD is the day of a game, MD-1 the day before one, MD+1 the day after one; nothing where none"
    f" is within {NEAR_DAYS} days."
)


def game_day_words(day: date, games: Sequence[datetime]) -> str:
    """Return a day's place between games: `MD+2, MD-3`; empty if none is near."""
    since, until = days_between_games(day, {game.date() for game in games})
    if since == 0:
        return "MD"
    parts = [
        f"MD{sign}{days}"
        for sign, days in (("+", since), ("-", until))
        if days is not None and days <= NEAR_DAYS
    ]
    return ", ".join(parts)


def squad_day_words(day: date, known: Mapping[str, AthleteDays], codes: Iterable[str]) -> str:
    """Return a day's place between the games of some athletes; empty if none is near.

    If athletes have different games, each place comes with its number of athletes.
    """
    places = Counter(known[code].around(day) for code in codes if code in known)
    if len(places) <= 1:
        return next(iter(places), "")
    return "; ".join(
        f"{place} ({counted(many, 'athlete')})" for place, many in places.most_common() if place
    )


def games_sentence(known: Mapping[str, AthleteDays], first: date, last: date) -> str:
    """Return the game days from one day to another in a sentence."""
    days = {game.date() for each in known.values() for game in each.games}
    within = [dates.day_of_year(day) for day in sorted(days) if first <= day <= last]
    if not within:
        return "No game in this week."
    return f"{counted(len(within), 'game day')} in this week: {listed(within)}."
