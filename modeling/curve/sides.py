"""The sides of a curve: how performance falls away from the peak on either side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Side(Protocol):
    """One side of a curve: how far below the peak, at a distance from it.

    Distances are shares of the peak's own volume, so the sides have no unit; the scale of the
    answer is free.
    """

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate at distances of 0 or more; 0 at 0 and rising."""
        ...


@dataclass(frozen=True)
class Power:
    """``x ** exponent``: below 1 steepest at the peak, above 1 flattest there."""

    exponent: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate; see `Side`."""
        return distance**self.exponent


@dataclass(frozen=True)
class Exponential:
    """``exp(rate * x) - 1 - rate * x``: leaves the peak like a parabola.

    With a positive rate it is a saturating rise seen from its end, with a negative one it turns
    into a straight line; both together are a saturating rise minus a linear fatigue.
    """

    rate: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate; see `Side`."""
        scaled = self.rate * distance
        return np.expm1(scaled) - scaled


@dataclass(frozen=True)
class Bend:
    """``(1 + (x / width) ** 4) ** (1 / 4) - 1``: a plateau as wide as `width`, then a line."""

    width: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate without losing digits at small distances; see `Side`."""
        return np.expm1(np.log1p((distance / self.width) ** 4) / 4.0)


@dataclass(frozen=True)
class Step:
    """``z ** 2 / (1 + z ** 2)`` with z = x / width: leaves like a parabola, then levels off."""

    width: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate without overflow at large distances; see `Side`."""
        ratio = distance / self.width
        return (ratio / np.hypot(1.0, ratio)) ** 2
