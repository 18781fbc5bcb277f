"""What is done and how hard, in one line."""

from __future__ import annotations

from dashboard.core.numbers import capital, number
from db.roster.protocols import Protocol

LEAST_PACE_MINUTES = 0.5

BUILD_UP = (
    "Never cold: the general part ends with about 3 easier efforts, from easy to nearly full, which"
    " don't count."
)
"""The number of efforts is common practice, no source."""


def effort_line(protocol: Protocol) -> str:
    """Return what is done and the rest between efforts, for tests and pages."""
    rest = protocol.rest_seconds
    return _line(protocol, "" if rest is None else f"{_seconds(rest)} between two")


def paced_line(protocol: Protocol, minutes_per_effort: float) -> str:
    """Return what is done and how often, before a game, which has its own pace."""
    return _line(protocol, f"one every {_seconds(60.0 * minutes_per_effort)}")


def pace_minutes(protocol: Protocol) -> float:
    """Return the default minutes for each effort before a game.

    In a group it takes half a minute or more (common practice, no source), and never less than
    the rest that the measure asks for.
    """
    return max(LEAST_PACE_MINUTES, (protocol.rest_seconds or 0.0) / 60.0)


def _line(protocol: Protocol, pace: str) -> str:
    parts = [protocol.effort, protocol.arms, protocol.ball, protocol.beginning, pace]
    return ", ".join(part for part in parts if part)


def whole_line(protocol: Protocol) -> str:
    """Return the same line with everything that must stay the same from test to test."""
    more = [protocol.depth, protocol.surface, protocol.shoes]
    said = ", ".join([effort_line(protocol), *(part for part in more if part)])
    return f"{capital(said)}. The same each time."


def rest_as_done(seconds: float, protocol: Protocol) -> str:
    """Return what the rest between two efforts was, and what the measure asks for."""
    step = next(step for least, step in ((90.0, 30.0), (20.0, 5.0), (0.0, 1.0)) if seconds >= least)
    asked = protocol.rest_seconds
    besides = "" if asked is None else f"; the measure asks for {_seconds(asked)}"
    return f"About {_seconds(step * round(seconds / step))} between efforts{besides}."


def _seconds(seconds: float) -> str:
    if seconds >= 60 and seconds % 30 == 0:
        return f"{number(seconds / 60)} min"
    return f"{number(seconds)} s"
