"""Estimates with their intervals, and the quantiles they are made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["BAND", "QUANTILES", "Estimate", "estimate", "percent", "weighted_quantiles"]

FloatArray = NDArray[np.float64]

QUANTILES = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
BAND = np.array([0.05, 0.95])


@dataclass(frozen=True)
class Estimate:
    """A median with its 90 % interval (5 % and 95 % quantiles)."""

    median: float
    low: float
    high: float


def percent(change: FloatArray) -> FloatArray:
    """Log change to %."""
    return 100.0 * np.expm1(change)


def estimate(quantiles: FloatArray) -> Estimate:
    """Take median and interval out of the five `QUANTILES`."""
    return Estimate(float(quantiles[2]), float(quantiles[0]), float(quantiles[4]))


def weighted_quantiles(value: FloatArray, weight: FloatArray, shares: FloatArray) -> FloatArray:
    """Quantiles of weighted values, interpolated between the middles of their weights."""
    order = np.argsort(value, kind="stable")
    cumulative = np.cumsum(weight[order])
    middle = (cumulative - 0.5 * weight[order]) / cumulative[-1]
    return np.interp(shares, middle, value[order])
