"""How far apart two measurements of the same athletes are: limits of agreement.

References
----------
Bland & Altman (1986), Statistical methods for assessing agreement between two methods of
clinical measurement, Lancet 1:307-310.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm, t

from modeling.repeat.variance_components import CONFIDENCE, Bounded

__all__ = ["Agreement", "agreement"]

HOLDS = float(norm.ppf(0.975))
"""Standard deviations on either side of the mean that hold 95 % of a normal distribution."""


@dataclass(frozen=True)
class Agreement:
    """Mean difference of pairs, and the limits that hold 95 % of the differences.

    Attributes
    ----------
    pairs : int
        Number of pairs.
    difference : Bounded
        Mean of the second values less the first: the change in the mean.
    sd : float
        Standard deviation of the differences.
    lower, upper : Bounded
        Limits of agreement, in the unit of the values.
    """

    pairs: int
    difference: Bounded
    sd: float
    lower: Bounded
    upper: Bounded


def agreement(
    first: ArrayLike, second: ArrayLike, confidence: float = CONFIDENCE, holds: float = HOLDS
) -> Agreement:
    """Compare independent pairs of values in one unit, with none missing.

    Parameters
    ----------
    first, second : array-like of shape (n,)
        The pairs.
    confidence : float
        Confidence of the intervals: t with n - 1 degrees of freedom; the standard error of a
        limit is sd sqrt(3 / n).
    holds : float
        Standard deviations from the mean to either limit.

    Raises
    ------
    ValueError
        There are fewer than two pairs.
    """
    differences = np.asarray(second, dtype=float) - np.asarray(first, dtype=float)
    pairs = len(differences)
    if pairs < 2:
        raise ValueError("At least two pairs are needed to compare.")
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    reach = float(t.ppf(0.5 + confidence / 2, pairs - 1)) * sd / sqrt(pairs)

    def around(value: float, width: float) -> Bounded:
        return Bounded(value, value - width, value + width)

    return Agreement(
        pairs=pairs,
        difference=around(mean, reach),
        sd=sd,
        lower=around(mean - holds * sd, sqrt(3.0) * reach),
        upper=around(mean + holds * sd, sqrt(3.0) * reach),
    )
