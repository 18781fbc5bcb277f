"""Information matrices held against each other, direction by direction."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh

FloatArray = NDArray[np.float64]

LEAST_SHARE, LEAST_STEP_SHARE = 0.02, 0.25
"""Smallest share of the complete information that a direction is taken to have; for steps more,
so that they do not overshoot where a constant and the curves can hardly be told apart."""


def surviving(information: FloatArray, own_scores: FloatArray) -> FloatArray:
    """Cut the data's information where the athletes disagree more than it allows.

    Were the curves' shapes right, the scores would scatter as much as the information says. In a
    direction in which they scatter more, the information over that excess is left: Godambe's,
    the inverse of White's sandwich. No direction gains.

    Parameters
    ----------
    information : array of shape (s, s)
        The data's, without what is thought beforehand.
    own_scores : array of shape (n_athletes, s)
    """
    athletes, effects = own_scores.shape
    if athletes <= effects + 1:
        return information
    apart = own_scores - own_scores.mean(axis=0)
    scatter = apart.T @ apart * athletes / (athletes - effects)
    return _by_share(scatter, information, lambda excess: 1.0 / np.maximum(excess, 1.0))


def floored(observed: FloatArray, complete: FloatArray, least: float) -> FloatArray:
    """Let no direction have less than a share of the complete information, or more than it."""
    return _by_share(observed, complete, lambda share: np.clip(share, least, 1.0))


def _by_share(
    part: FloatArray, whole: FloatArray, change: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Weigh the whole in each direction by a function of the part's share there."""
    share, vectors = eigh(part, whole)
    back = whole @ vectors
    return np.asarray((back * change(share)) @ back.T, dtype=float)
