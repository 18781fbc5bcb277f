"""Values from what a device shows: a height from time in the air, a speed from a time."""

from __future__ import annotations

__all__ = ["GRAVITY", "flight_height_m", "speed"]

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s2."""


def flight_height_m(seconds: float) -> float:
    """Height of a jump in m from its flight time in s: h = g t^2 / 8.

    This assumes that the body lands in the position in which it left the ground; bent knees on
    landing add height (Linthorne 2001, Am J Phys 69:1198-1204).

    Examples
    --------
    >>> round(flight_height_m(0.5), 3)
    0.306
    """
    return GRAVITY * seconds**2 / 8.0


def speed(distance_m: float, seconds: float) -> float:
    """Mean speed in m/s over a distance in m.

    Examples
    --------
    >>> speed(10.0, 1.6)
    6.25
    """
    return distance_m / seconds
