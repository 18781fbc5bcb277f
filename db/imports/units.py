"""Units that files are written in, with exact factors."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from db.tables.cells import NUMBER

__all__ = ["UNITS", "converted", "scale", "units_like"]


@dataclass(frozen=True)
class Unit:
    """A unit: what it measures, and the amount `factor * number + offset` in the base unit."""

    kind: str
    factor: Fraction
    offset: Fraction = Fraction(0)


# The inch, the mile, the pound and its force are exact by definition (NIST Special Publication
# 811, B.8).
UNITS = {
    "mm": Unit("length", Fraction("0.001")),
    "cm": Unit("length", Fraction("0.01")),
    "m": Unit("length", Fraction(1)),
    "in": Unit("length", Fraction("0.0254")),
    "ft": Unit("length", Fraction("0.3048")),
    "m/s": Unit("speed", Fraction(1)),
    "km/h": Unit("speed", Fraction(1000, 3600)),
    "mph": Unit("speed", Fraction("1609.344") / 3600),
    "mm/s": Unit("speed", Fraction("0.001")),
    "cm/s": Unit("speed", Fraction("0.01")),
    "ft/s": Unit("speed", Fraction("0.3048")),
    "ms": Unit("time", Fraction("0.001")),
    "s": Unit("time", Fraction(1)),
    "min": Unit("time", Fraction(60)),
    "h": Unit("time", Fraction(3600)),
    "°C": Unit("temperature", Fraction(1)),
    "°F": Unit("temperature", Fraction(5, 9), Fraction(-160, 9)),
    "kg": Unit("mass", Fraction(1)),
    "lb": Unit("mass", Fraction("0.45359237")),
    "N": Unit("force", Fraction(1)),
    "lbf": Unit("force", Fraction("4.4482216152605")),
}


# No real measurement comes near these.
SMALLEST, LARGEST = 1e-30, 1e30


def units_like(unit: str) -> list[str]:
    """List the units that convert into a unit, itself first; empty if the unit is not known."""
    if unit not in UNITS:
        return []
    kind = UNITS[unit].kind
    return [unit, *(name for name in UNITS if UNITS[name].kind == kind and name != unit)]


def scale(unit: str, into: str) -> tuple[float, float]:
    """Return the factor and then the offset that turn a number into the other unit's."""
    start, end = UNITS[unit], UNITS[into]
    return float(start.factor / end.factor), float((start.offset - end.offset) / end.factor)


def converted(text: str, unit: str, into: str) -> str:
    """Write a number in another unit, rounded once; a text that is no number stays as it is."""
    # As an exact fraction, a number with a huge exponent would take all memory.
    if unit == into or not NUMBER.fullmatch(text) or not _of_this_world(text):
        return text
    start, end = UNITS[unit], UNITS[into]
    number = Fraction(text) * start.factor + start.offset
    return repr(float((number - end.offset) / end.factor))


def _of_this_world(text: str) -> bool:
    return SMALLEST < abs(float(text)) < LARGEST or not text.strip("+-0.")
