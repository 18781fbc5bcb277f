"""A mean with its interval when some values belong together, such as those of one athlete."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from modeling.estimate import Estimate

__all__ = ["CountedMean", "clustered_mean"]

INTERVAL = 0.90


@dataclass(frozen=True)
class CountedMean:
    """A mean with its 90 % interval.

    Attributes
    ----------
    values, groups : int
        Number of values, and number of groups they come from.
    mean : Estimate
        In the unit of the values; the interval's middle is the mean.
    """

    values: int
    groups: int
    mean: Estimate


def clustered_mean(values: ArrayLike, groups: ArrayLike) -> CountedMean | None:
    """Return the mean of values, with an interval that allows for values of one group being alike.

    If all come from one group, each value counts by itself, and the interval is about that group
    only.

    Parameters
    ----------
    values : array-like of shape (n_values,)
        NaN is left out.
    groups : array-like of shape (n_values,)
        Group of each value.

    Returns
    -------
    CountedMean or None
        None with fewer than 2 values.

    References
    ----------
    Liang and Zeger (1986), Biometrika 73:13-22, with the factor groups / (groups - 1) and
    Student's t with one degree of freedom fewer than groups, as is usual for few groups.
    """
    value, names = np.asarray(values, dtype=float), np.asarray(groups)
    known = ~np.isnan(value)
    value, names = value[known], names[known]
    if len(value) < 2:
        return None
    found, place = np.unique(names, return_inverse=True)
    if len(found) == 1:
        place = np.arange(len(value))
    middle = float(value.mean())
    apart = np.bincount(place, value - middle)
    free = len(apart) - 1
    error = float(np.sqrt((free + 1) / free * np.sum(apart**2))) / len(value)
    reach = float(stdtrit(free, (1.0 + INTERVAL) / 2.0)) * error
    return CountedMean(len(value), len(found), Estimate(middle, middle - reach, middle + reach))
