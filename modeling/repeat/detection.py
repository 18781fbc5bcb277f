"""Changes that some efforts and sessions can show, given the noise of efforts and of days."""

from __future__ import annotations

from functools import cache
from math import ceil, hypot, inf, log, sqrt

import numpy as np
from scipy.integrate import quad
from scipy.stats import norm

from modeling.estimate import SDS_TO_END
from modeling.repeat.variance_components import Bounded

__all__ = ["best_of_bias", "day_noise", "detectable_change", "sessions_needed"]

SURE = 0.95
"""Noise alone may look like a change, up or down, with a chance of 1 - SURE at most."""
POWER = 0.80
"""Chance of seeing a change of the size looked for. Both are common practice, no source."""
STANDARD_ERRORS = float(norm.ppf(0.5 + SURE / 2) + norm.ppf(POWER))


@cache
def best_of_bias(efforts: int) -> float:
    """Return how far the best of some efforts lies above their mean by noise alone.

    It is in standard deviations of an effort: the expected largest of `efforts` independent
    normal values, by integration. Tables of the expected largest value give the same.
    """
    if efforts == 1:
        return 0.0

    def density(x: float) -> float:
        return x * efforts * float(norm.pdf(x)) * float(norm.cdf(x)) ** (efforts - 1)

    return float(quad(density, -10.0, 10.0, epsabs=1e-10)[0])


def day_noise(typical_error: Bounded, effort: Bounded, efforts: int) -> Bounded:
    """Day noise behind the typical error of sessions, without any model.

    Parameters
    ----------
    typical_error, effort : Bounded
        Standard deviations of a session's mean and of an effort, with 90 % intervals.
    efforts : int
        Efforts in a session.

    Returns
    -------
    Bounded
        sqrt(typical_error^2 - effort^2 / efforts), or 0 if efforts alone explain the error; the
        interval combines the errors of both squares.
    """
    variance = typical_error.value**2 - effort.value**2 / efforts
    reach = SDS_TO_END * hypot(_square_error(typical_error), _square_error(effort) / efforts)
    middle, low, high = (
        sqrt(max(each, 0.0)) for each in (variance, variance - reach, variance + reach)
    )
    return Bounded(middle, low, high)


def detectable_change(day: Bounded, effort: Bounded, efforts: int, sessions: int = 1) -> Bounded:
    """Smallest detectable change between two occasions, at 95 % confidence and 80 % power.

    Parameters
    ----------
    day, effort : Bounded
        Standard deviation of a day and of an effort in %, with 90 % intervals.
    efforts, sessions : int
        Efforts in each session, and sessions on each occasion; all count equally.

    Returns
    -------
    Bounded
        (z(0.975) + z(0.8)) sqrt(2 (day^2 + effort^2 / efforts) / sessions) in %; the interval
        combines the errors of both variances, and is symmetrical in the logarithm.
    """
    variance = day.value**2 + effort.value**2 / efforts
    error = hypot(_square_error(day), _square_error(effort) / efforts)
    factor = STANDARD_ERRORS * sqrt(2.0 / sessions)
    spread = float(np.exp(0.5 * SDS_TO_END * error / variance))
    middle = factor * sqrt(variance)
    return Bounded(middle, middle / spread, middle * spread)


def sessions_needed(detectable: Bounded, worthwhile: Bounded) -> Bounded | None:
    """Sessions on each of two occasions that it takes to show a worthwhile change.

    Parameters
    ----------
    detectable : Bounded
        Detectable change with one session on each occasion, from `detectable_change`.
    worthwhile : Bounded
        The change to show, in the same unit; its interval has no width if it is a setting.

    Returns
    -------
    Bounded or None
        Whole sessions: (detectable / worthwhile)^2 rounded up; the interval combines the errors
        of both logarithms and has no upper end (inf) if the worthwhile change may be 0. None if
        it is estimated to be 0.
    """
    if worthwhile.value <= 0.0:
        return None
    middle = 2.0 * log(detectable.value / worthwhile.value)

    def whole(logarithm: float) -> float:
        return float(max(ceil(np.exp(logarithm) - 1e-9), 1))

    down = hypot(log(detectable.value / detectable.low), log(worthwhile.high / worthwhile.value))
    high = inf
    if worthwhile.low > 0.0:
        up = hypot(log(detectable.high / detectable.value), log(worthwhile.value / worthwhile.low))
        high = whole(middle + 2.0 * up)
    return Bounded(whole(middle), whole(middle - 2.0 * down), high)


def _square_error(size: Bounded) -> float:
    """Return the standard error of the square of a size."""
    return (size.high**2 - size.low**2) / (2.0 * SDS_TO_END)
