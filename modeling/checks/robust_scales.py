"""Scales that a few wrong values do not stretch, and the tails of the other values.

Scales are medians of absolute deviations times 1.4826, which makes them standard deviations
where noise is normal (Hampel 1974). An athlete's own scale is shrunk towards the squad's, more so
with fewer values. The logarithm of such a scale has a variance of about 1.35 / n (its efficiency
is 0.37), and athletes' noise differs by some 25 % (from memory), so own and squad scale count the
same at about 20 values.

The tails are those of the t distribution that best describes all but the farthest 2.5 %. Only the
number of these farthest values counts (a likelihood censored on the right), so the suspect values
do not widen the tails that they are judged by.

References
----------
Hampel (1974), The influence curve and its role in robust estimation, JASA 69, 383-393.
Lange, Little & Taylor (1989), Robust statistical modeling using the t distribution, JASA 84.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, stdtr, stdtrit
from scipy.stats import norm

__all__ = ["CoreTail", "core_tail", "median_scale", "own_scales"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

TO_NORMAL = float(1.0 / norm.ppf(0.75))
EVEN_COUNT = 20.0
"""With this many values an athlete's own scale counts as much as the squad's."""

TAILS = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 14.0, 20.0)
CORE_SHARE = 0.975
STEPS = 16


@dataclass(frozen=True)
class CoreTail:
    """The t distribution of all but the farthest values.

    Attributes
    ----------
    df : float
        Degrees of freedom, one of `TAILS`: at most 20, as a few values never prove thin tails.
    scale : float
        Divisor of standardised values.
    """

    df: float
    scale: float

    def chance(self, z: FloatArray) -> FloatArray:
        """Chance of a value at least this far from 0, on either side."""
        return np.asarray(2.0 * stdtr(self.df, -np.abs(z) / self.scale))

    def limit(self, chance: float) -> float:
        """Distance from 0 that a value exceeds with this chance."""
        return float(-stdtrit(self.df, chance / 2.0) * self.scale)

    def log_density(self, z: FloatArray) -> FloatArray:
        """Log density at some distances."""
        return _log_density(z / self.scale, self.df) - np.log(self.scale)


def median_scale(values: FloatArray) -> float:
    """Return 1.4826 times the median distance from 0: a standard deviation for normal noise."""
    return float(np.median(np.abs(values)) * TO_NORMAL)


def own_scales(values: FloatArray, owner: IntArray, owners: int) -> FloatArray:
    """Return each owner's scale, shrunk towards that of all, more so with fewer values.

    Parameters
    ----------
    values : array of shape (n,)
        Differences from what is expected, with the same expected size.
    owner : array of shape (n,)
        Number of each value's owner, from 0.
    owners : int
        Number of owners; an owner without values gets the scale of all.
    """
    of_all = median_scale(values)
    scales = np.full(owners, of_all)
    for one in np.unique(owner):
        own = values[owner == one]
        # A median of exactly 0 (values that repeat) says nothing about the scale.
        ratio = max(median_scale(own) / of_all, 0.1) if of_all > 0 else 1.0
        scales[one] = of_all * ratio ** (len(own) / (len(own) + EVEN_COUNT))
    return scales


def core_tail(z: FloatArray) -> CoreTail:
    """Find the t distribution of all but the farthest 2.5 % of standardised values."""
    size = np.sort(np.abs(z))
    kept = max(int(np.ceil(CORE_SHARE * len(size))), 1)
    core, beyond = size[:kept], len(size) - kept
    scales = max(median_scale(z), 1e-12) * np.geomspace(0.7, 1.2, STEPS)
    best, found = -np.inf, CoreTail(TAILS[-1], 1.0)
    for df in TAILS:
        log_likelihood = (
            _log_density(core / scales[:, None], df).sum(axis=1)
            - kept * np.log(scales)
            + beyond * np.log(2.0 * stdtr(df, -core[-1] / scales))
        )
        place = int(np.argmax(log_likelihood))
        # If thinner tails fit as well, take them.
        if log_likelihood[place] >= best - 1e-9:
            best, found = float(log_likelihood[place]), CoreTail(df, float(scales[place]))
    return found


def _log_density(z: FloatArray, df: float) -> FloatArray:
    constant = gammaln((df + 1.0) / 2.0) - gammaln(df / 2.0) - 0.5 * np.log(df * np.pi)
    return np.asarray(constant - 0.5 * (df + 1.0) * np.log1p(z**2 / df))
