"""The injury-prevention part of a warm-up in words: it comes first, for everybody."""

from __future__ import annotations

from dashboard.core.numbers import number
from dashboard.game.advice import PREVENTION_MINUTES
from dashboard.game.lines import Line, WaveLines
from db.plans.games import Game

NEVER_INSTEAD = "Own lengths come after it; a short one skips none of it."
PREVENTION = (
    f"Injury prevention first, at least {PREVENTION_MINUTES:g} min, for everybody. {NEVER_INSTEAD}"
)


def minutes(line: Line | WaveLines) -> float:
    """Return the minutes of prevention before the general part; 0 if it is within that part."""
    return (line.general_at - line.begins_at).total_seconds() / 60.0


def first(line: Line | WaveLines) -> str:
    """Return when prevention begins; empty if it is within the general part."""
    lasts = minutes(line)
    return f"{line.begins_at:%H:%M} injury prevention, {number(lasts)} min; " if lasts else ""


def sentence(game: Game) -> str:
    """Return how long prevention takes before a game, and that nobody skips it."""
    if not game.prevention_minutes:
        return PREVENTION
    lasts = number(game.prevention_minutes)
    return f"Injury prevention first, {lasts} min, for everybody. {NEVER_INSTEAD}"


def short(game: Game) -> str:
    """Return the minutes of prevention, to go in front of those of the general part."""
    return f"{number(game.prevention_minutes)} min prevention, " if game.prevention_minutes else ""
