"""Draws of several athletes side by side, with slightly correlated errors."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

__all__ = ["ALIKE", "paired"]

FloatArray = NDArray[np.float64]

ALIKE = 0.02
"""Correlation of errors in athletes' gains: the model's shapes are wrong for all in the same way.

On 180 simulated squads of nine rough kinds (`modeling/testing/rough_squads.py`), whose athletes
may also each deviate from every curve, 90 % intervals of what own lengths are worth held in 96 %,
and in 80 to 100 % for single kinds."""


def paired(gains: FloatArray) -> FloatArray:
    """Pair every athlete's draws with the others': normal scores correlate by `ALIKE`.

    Parameters
    ----------
    gains : array of shape (n_athletes, n_draws)

    Returns
    -------
    array of shape (n_athletes, n_draws)
        The same draws of each athlete in another order.
    """
    athletes, draws = gains.shape
    # The standard library's quantiles: SciPy takes longer to load than a page to show.
    shared = np.array([NormalDist().inv_cdf(share) for share in (np.arange(draws) + 0.5) / draws])
    own = np.random.default_rng(0).standard_normal((athletes, draws))
    places = (np.sqrt(ALIKE) * shared + np.sqrt(1.0 - ALIKE) * own).argsort(axis=1).argsort(axis=1)
    return np.take_along_axis(np.sort(gains, axis=1), places, axis=1)
