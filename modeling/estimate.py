"""Estimates with their intervals, and the quantiles they are made of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BAND",
    "QUANTILES",
    "SDS_TO_END",
    "Estimate",
    "drawn_quantiles",
    "estimate",
    "interval",
    "percent",
    "weighted_quantiles",
]

FloatArray = NDArray[np.float64]

QUANTILES = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
BAND = np.array([0.05, 0.95])
SDS_TO_END = NormalDist().inv_cdf(0.95)
"""Standard deviations from the middle of a normal distribution to the ends of its central 90 %."""


@dataclass(frozen=True)
class Estimate:
    """A median with its 90 % interval.

    Attributes
    ----------
    median, low, high : float
        The 50 %, 5 % and 95 % quantiles.

    Notes
    -----
    Units: those of the estimated quantity.
    Missing values: none; where nothing is known yet there is no estimate.
    Errors: reading it raises nothing.
    Source: quantiles of draws after Harrell & Davis 1982, see `drawn_quantiles`.
    """

    median: float
    low: float
    high: float


LARGEST_LOG = 700.0
"""Larger log changes would overflow when turned into %; only wrong units get there."""


def percent(change: FloatArray) -> FloatArray:
    """Turn a log change into %."""
    return 100.0 * np.expm1(np.minimum(change, LARGEST_LOG))


def estimate(quantiles: FloatArray) -> Estimate:
    """Take the median and the interval from the five `QUANTILES`."""
    return Estimate(float(quantiles[2]), float(quantiles[0]), float(quantiles[4]))


def interval(name: str, estimate: Estimate) -> dict[str, float]:
    """Return an estimate as three columns: its median, and its 5 % and 95 % quantiles."""
    return {name: estimate.median, f"{name}_low": estimate.low, f"{name}_high": estimate.high}


def drawn_quantiles(drawn: FloatArray) -> FloatArray:
    """Give the `QUANTILES` of equally weighted draws, (n_draws,) or (n_draws, ...).

    Each is a mean over the draws around it (Harrell & Davis 1982, A new distribution-free quantile
    estimator, Biometrika 69, 635-640), so no single draw decides it.
    """
    means = _harrell_davis(len(drawn)) @ np.sort(drawn, axis=0)
    # Rounding must not put a quantile of nearly equal draws below a lower one.
    return np.maximum.accumulate(means, axis=0)


@cache
def _harrell_davis(draws: int) -> FloatArray:
    from scipy.special import betainc

    ends = np.arange(draws + 1) / draws
    shares = QUANTILES[:, None]
    return np.diff(betainc(shares * (draws + 1), (1.0 - shares) * (draws + 1), ends), axis=1)


def weighted_quantiles(value: FloatArray, weight: FloatArray, shares: FloatArray) -> FloatArray:
    """Quantiles of weighted values, interpolated between the middles of their weights."""
    order = np.argsort(value, kind="stable")
    cumulative = np.cumsum(weight[order])
    middle = (cumulative - 0.5 * weight[order]) / cumulative[-1]
    return np.interp(shares, middle, value[order])
