"""What is done and how hard, in one line."""

from __future__ import annotations

from dashboard.core.numbers import number
from db.roster.protocols import Protocol


def effort_line(protocol: Protocol) -> str:
    """Return what is done and the rest between: for a sheet, a phone and a page."""
    parts = [protocol.effort, protocol.arms, protocol.ball, protocol.beginning]
    if protocol.rest_seconds is not None:
        parts.append(f"{_rest(protocol.rest_seconds)} between two")
    return ", ".join(part for part in parts if part)


def whole_line(protocol: Protocol) -> str:
    """Return the same with all that is to stay the same from test to test."""
    more = [protocol.depth, protocol.surface, protocol.shoes]
    said = ", ".join([effort_line(protocol), *(part for part in more if part)])
    return f"{said[:1].upper()}{said[1:]}. The same each time."


def _rest(seconds: float) -> str:
    if seconds >= 60 and seconds % 30 == 0:
        return f"{number(seconds / 60)} min"
    return f"{number(seconds)} s"
