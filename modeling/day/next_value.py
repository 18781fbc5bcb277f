"""Where an athlete's next value is expected, to ask about mistyped ones.

With a curve it is the predictive interval of one effort: level of the day, curve at its volume,
noise of the effort. A few efforts of the day outweigh earlier days. Without a curve it is a fixed
share around what the athlete has just shown. Both are wide on purpose: a value outside is no
judgement on the athlete, and the person who typed it only has to confirm it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

__all__ = ["Before", "Expected", "OwnCurve", "earlier_days", "expected"]

FloatArray = NDArray[np.float64]

WIDTH = 4.0
"""Standard deviations either way: fewer than one in two hundred of the demo squad's efforts is
asked about, and most of those are planted mistakes."""
LEAST_SHARE = 0.06
"""A smaller difference than this share is never asked about, however little noise was found."""
SHARE_OF_DAY, SHARE_OF_EARLIER = 0.20, 0.30
"""Without a curve: from the last efforts of the day, and from earlier days. Our choice."""
NEWEST = 3
DAYS = 8
MEDIAN_VARIANCE = 1.571
"""Variance of a median against that of a mean, pi / 2. One slip hardly moves a median."""


@dataclass(frozen=True)
class OwnCurve:
    """An athlete's expected curve and the noise around it, in logarithms.

    Attributes
    ----------
    volume, change, sd : arrays of shape (n_volumes,)
        Rising volumes; logarithm of a value against that at the peak; its standard deviation.
    day_sd, effort_sd : float
        Spread of days and of efforts.
    """

    volume: FloatArray
    change: FloatArray
    sd: FloatArray
    day_sd: float
    effort_sd: float

    def at(self, volume: float) -> tuple[float, float]:
        """Return the change at a volume, and its standard deviation."""
        change, sd = (np.interp(volume, self.volume, each) for each in (self.change, self.sd))
        return float(change), float(sd)


@dataclass(frozen=True)
class Before:
    """What is known of an athlete before the first effort of a day.

    Attributes
    ----------
    levels : tuple of float
        Logarithm of the level of each earlier day, the oldest first.
    curve : OwnCurve or None
        None before the first fit; levels then come from the values as they are.
    """

    levels: tuple[float, ...] = ()
    curve: OwnCurve | None = None


@dataclass(frozen=True)
class Expected:
    """Where the next value is expected, in the unit of the values."""

    middle: float
    low: float
    high: float

    def is_far(self, value: float, last: float | None) -> bool:
        """Tell whether a value should be asked about: far from this, and from the one before it.

        Two values that agree to within half the reach of the interval confirm each other.
        """
        if self.low <= value <= self.high:
            return False
        return last is None or abs(log(value / last)) > log(self.high / self.middle) / 2.0


def earlier_days(days: Sequence[tuple[FloatArray, FloatArray]], curve: OwnCurve | None) -> Before:
    """Sum up earlier days.

    Parameters
    ----------
    days : sequence of (volumes, values)
        The usable efforts of each, the oldest day first; values above 0, nothing missing.
    curve : OwnCurve or None
        To remove the effect of volume. If the athlete's efforts scatter more than its noise, it
        gets the larger noise.
    """
    levels, left = [], []
    for volumes, values in days:
        logs = np.log(values)
        if curve is not None:
            logs = logs - np.interp(volumes, curve.volume, curve.change)
        levels.append(float(np.median(logs)))
        left.append(logs - levels[-1])
    if curve is not None and left:
        own = 1.4826 * float(np.median(np.abs(np.concatenate(left))))
        curve = OwnCurve(
            curve.volume, curve.change, curve.sd, curve.day_sd, max(curve.effort_sd, own)
        )
    return Before(tuple(levels), curve)


def expected(before: Before, done: Sequence[tuple[float, float]], volume: float) -> Expected | None:
    """Return where the next value is expected; None where nothing is known of the athlete.

    Parameters
    ----------
    before : Before
        Earlier days.
    done : sequence of (volume, value)
        The usable efforts of this day so far, in order.
    volume : float
        Volume before the next effort.
    """
    if before.curve is None:
        return _by_share(before, [value for _, value in done])
    known = _level(before, before.curve, done)
    if known is None:
        return None
    level, variance = known
    change, sd = before.curve.at(volume)
    spread = float(np.sqrt(variance + sd**2 + before.curve.effort_sd**2))
    return _about(level + change, max(WIDTH * spread, log(1.0 + LEAST_SHARE)))


def _level(
    before: Before, curve: OwnCurve, done: Sequence[tuple[float, float]]
) -> tuple[float, float] | None:
    """Return the level of the day and its variance, from earlier days and this day's efforts."""
    precision = mean = 0.0
    recent = np.array(before.levels[-DAYS:])
    if len(recent):
        scatter = float(recent.var(ddof=1)) if len(recent) > 1 else 0.0
        precision = 1.0 / (max(curve.day_sd**2, scatter) * (1.0 + 1.0 / len(recent)))
        mean = float(recent.mean())
    if done:
        logs = [log(value) - curve.at(volume)[0] for volume, value in done]
        of_day = len(logs) / (MEDIAN_VARIANCE * curve.effort_sd**2)
        mean = (precision * mean + of_day * float(np.median(logs))) / (precision + of_day)
        precision += of_day
    return (mean, 1.0 / precision) if precision else None


def _by_share(before: Before, values: Sequence[float]) -> Expected | None:
    if values:
        return _about(float(np.median(np.log(values[-NEWEST:]))), log(1.0 + SHARE_OF_DAY))
    if before.levels:
        middle = float(np.median(before.levels[-DAYS:]))
        return _about(middle, log(1.0 + SHARE_OF_EARLIER))
    return None


def _about(middle: float, reach: float) -> Expected:
    middle, low, high = (float(np.exp(each)) for each in (middle, middle - reach, middle + reach))
    return Expected(middle, low, high)
