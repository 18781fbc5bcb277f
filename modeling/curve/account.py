"""The warm-up account: what was done and how long ago, as one number on the volume axis.

An effort's volume in effect is::

    u = stretch * ((before + k * general) * 2 ** (-rest / half_life) + since)
    stretch = exp(-(per_degree * (20 - ambient) + per_hour * hours before 16:00))

`before` was done before the rest and `since` after it, so at a session's first effort this is
stretch * (efforts + k * general) * 2 ** (-rest / half_life). Where the rest between two efforts
is longer than the measure asks for, as in a group that takes turns, warmth leaves in each pause::

    q = 2 ** (-pause / half_life)
    u = stretch * ((before + k * general) * 2 ** (-rest / half_life) * q ** since
                   + (1 - q ** since) / (1 - q))

The second term is the sum of a geometric series, `since` without a pause. The rest that the measure
asks for is not counted, as curves come from efforts made with it. In the cold and early in the day
what was done counts for less, so more is needed. In the reference context (no rest, no general
part, 20 degrees, 16:00) u is the plain volume.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from modeling.curve.pauses import counted_after_pauses
from modeling.estimate import SDS_TO_END

__all__ = ["CONSTANTS", "Account", "Circumstances", "Constant", "Work"]

FloatArray = NDArray[np.float64]

REFERENCE_C = 20.0
REFERENCE_HOUR = 16.0
LOG_2 = float(np.log(2.0))
RANGE_SDS = 2.0 * round(SDS_TO_END, 3)  # as printed tables have it


@dataclass(frozen=True)
class Constant:
    """One constant of the account, before any data.

    Attributes
    ----------
    name : str
        The field of `Account`.
    words, unit : str
        What it is, for people.
    default, low, high : float
        Where it starts, and the range that holds 90 % of its prior.
    inverse : bool
        Whether the normal prior is that of its inverse: a half-life may be infinite.
    least_inner : float
        Smallest inner value that makes sense.
    small_inner : float
        An effect no larger than this makes no difference to anybody (common practice).
    source : str
        Where default and range come from.
    """

    name: str
    words: str
    unit: str
    default: float
    low: float
    high: float
    inverse: bool
    least_inner: float
    small_inner: float
    source: str

    def inner(self, value: float) -> float:
        """Put a value on the scale on which the constant's prior is normal."""
        return 1.0 / value if self.inverse else value

    def outer(self, inner: float) -> float:
        """Take a value back from that scale."""
        return (1.0 / inner if inner > 0 else np.inf) if self.inverse else inner

    @property
    def sd(self) -> float:
        """Spread of the prior on the inner scale, on which 0 is no effect."""
        return abs(self.inner(self.high) - self.inner(self.low)) / RANGE_SDS


CONSTANTS = (
    Constant(
        "general_per_minute",
        "what a minute of general warm-up counts for",
        "volume units a minute",
        0.3,
        0.05,
        1.0,
        False,
        0.0,
        0.1,
        "common practice, no source",
    ),
    Constant(
        "half_life_minutes",
        "rest that halves the warmth of a warm-up",
        "minutes",
        21.0,
        12.0,
        37.0,
        True,
        0.0,
        1.0 / 120.0,
        "derived from muscle cooling: 11.7 min from Mohr et al. 2004, 36.6 min from Raccuglia"
        " et al. 2016",
    ),
    Constant(
        "stretch_per_degree",
        "how much more is needed for each degree below 20",
        "share",
        0.01,
        -0.005,
        0.03,
        False,
        -0.1,
        0.003,
        "common practice, no source",
    ),
    Constant(
        "stretch_per_hour",
        "how much more is needed for each hour before 16:00",
        "share",
        0.02,
        -0.01,
        0.05,
        False,
        -0.1,
        0.005,
        "direction: Knaier et al. 2022, Mirizio et al. 2020; size: common practice, no source",
    ),
)


@dataclass(frozen=True)
class Circumstances:
    """The circumstances of one warm-up: its general part, the rest after it, the air and the hour.

    Attributes
    ----------
    general_minutes, rest_minutes : float
    ambient_c : float
        Degrees Celsius.
    hour : float
        Hour of the day, 0 to 24.
    left_over : float
        Volume that is left of an earlier warm-up of the day when this one ends, before its rest.

    Notes
    -----
    Units: minutes, degrees Celsius, hours of the clock on the wall, volume in effect.
    Missing values: none; what is left out is at the reference: no rest, no general part, 20 degrees
    and 16:00.
    Errors: it raises nothing, whatever the numbers.
    Source: the account, see the module.
    """

    general_minutes: float = 0.0
    rest_minutes: float = 0.0
    ambient_c: float = REFERENCE_C
    hour: float = REFERENCE_HOUR
    left_over: float = 0.0


@dataclass(frozen=True)
class Work:
    """What was done before each effort, and its circumstances; arrays of shape (n_efforts,).

    Attributes
    ----------
    before, since : arrays
        Volume before the session's first effort, and volume since.
    general, rest : arrays
        Minutes of general warm-up, and of rest before the first effort.
    cold, early : arrays
        Degrees below 20, and hours before 16:00 (0 afterwards).
    pause : array
        Minutes between two efforts beyond the rest that the measure asks for.
    """

    before: FloatArray
    since: FloatArray
    general: FloatArray
    rest: FloatArray
    cold: FloatArray
    early: FloatArray
    pause: FloatArray

    @classmethod
    def of(cls, before: FloatArray, since: FloatArray, around: Circumstances) -> Work:
        """Describe volumes under the same circumstances, without pauses."""
        like = np.ones_like(np.asarray(before, dtype=float))
        return cls(
            before=before * like + around.left_over,
            since=since * like,
            general=around.general_minutes * like,
            rest=around.rest_minutes * like,
            cold=(REFERENCE_C - around.ambient_c) * like,
            early=max(REFERENCE_HOUR - around.hour, 0.0) * like,
            pause=np.zeros_like(like),
        )

    @property
    def waited(self) -> FloatArray:
        """Minutes in which the warmth of what was done before the first effort has faded."""
        return self.rest + self.pause * self.since

    def around(self) -> FloatArray:
        """Give what each of `CONSTANTS` is multiplied by, or 0: (n_efforts, 4)."""
        return np.stack([self.general, self.waited, self.cold, self.early], axis=1)

    def select(self, keep: NDArray[np.bool_]) -> Work:
        """Keep some efforts."""
        return replace(self, **{f.name: getattr(self, f.name)[keep] for f in fields(self)})


@dataclass(frozen=True)
class Account:
    """The account with its constants; see the module and `CONSTANTS` for what they mean."""

    general_per_minute: float = CONSTANTS[0].default
    half_life_minutes: float = CONSTANTS[1].default
    stretch_per_degree: float = CONSTANTS[2].default
    stretch_per_hour: float = CONSTANTS[3].default

    def in_effect(self, work: Work) -> FloatArray:
        """Volume in effect of each effort: array of shape (n_efforts,)."""
        return self._stretch(work) * (self._carried(work) + self._added(work)[0])

    def volume_in_effect(self, volume: FloatArray, around: Circumstances) -> FloatArray:
        """Volume in effect of a warm-up of some volumes, all done before the rest."""
        volume = np.asarray(volume, dtype=float)
        return self.in_effect(Work.of(volume, np.zeros_like(volume), around))

    def volume_to_do(self, in_effect: FloatArray, around: Circumstances) -> FloatArray:
        """Volume to do to have this much in effect after the rest; below 0, none is needed."""
        share = self.stretch(around) * 2.0 ** (-around.rest_minutes / self.half_life_minutes)
        there = self.general_per_minute * around.general_minutes + around.left_over
        return np.asarray(in_effect) / share - there

    def stretch(self, around: Circumstances) -> float:
        """Volume in effect of one effort that was just made."""
        return float(self._stretch(Work.of(np.ones(1), np.zeros(1), around))[0])

    def slopes(self, work: Work) -> FloatArray:
        """Give slopes of the volume in effect by the constants' inner values: (n_efforts, 4)."""
        stretch, carried = self._stretch(work), self._carried(work)
        kept = self._kept(work)
        added, slope = self._added(work)
        volume = stretch * (carried + added)
        return np.stack(
            [
                stretch * kept * work.general,
                -stretch * carried * LOG_2 * work.waited + stretch * slope,
                -volume * work.cold,
                -volume * work.early,
            ],
            axis=1,
        )

    def _kept(self, work: Work) -> FloatArray:
        return np.exp(-LOG_2 * work.waited / self.half_life_minutes)

    def _carried(self, work: Work) -> FloatArray:
        return (work.before + self.general_per_minute * work.general) * self._kept(work)

    def _added(self, work: Work) -> tuple[FloatArray, FloatArray]:
        """Give what efforts since the first count for, and its slope by the half-life's inverse."""
        if not work.pause.any():
            return work.since, np.zeros_like(work.since)
        halvings = LOG_2 * work.pause
        counted, slope = counted_after_pauses(work.since, halvings / self.half_life_minutes)
        return counted, halvings * slope

    def _stretch(self, work: Work) -> FloatArray:
        return np.exp(-self.stretch_per_degree * work.cold - self.stretch_per_hour * work.early)
