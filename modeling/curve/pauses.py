"""Pauses between efforts beyond the rest that a measure asks for, in which warmth leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["counted_after_pauses", "pause_minutes"]

FloatArray = NDArray[np.float64]

SMALL = 1e-7
"""Below this the limits are used, as differences would lose their digits."""


def pause_minutes(done_seconds: ArrayLike, asked_seconds: float | None) -> FloatArray:
    """Say how long pauses between efforts were.

    Parameters
    ----------
    done_seconds : array-like of shape (n,)
        Rest between efforts as done; missing where it was not told.
    asked_seconds : float or None
        What the measure asks for; None where it asks for none.

    Returns
    -------
    array of shape (n,)
        Minutes; 0 where either is not known, or the rest was shorter.
    """
    done = np.asarray(done_seconds, dtype=float)
    if asked_seconds is None:
        return np.zeros_like(done)
    return np.nan_to_num(np.maximum(done - asked_seconds, 0.0) / 60.0)


def counted_after_pauses(since: FloatArray, lost: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Say what efforts count for with a pause after each, and how that changes with `lost`.

    Parameters
    ----------
    since : array of shape (n,)
        Efforts.
    lost : array of shape (n,)
        What leaves in each pause, as a natural log: q = exp(-lost).

    Returns
    -------
    counted : array of shape (n,)
        1 + q + q^2 + ... of as many terms: (1 - q^since) / (1 - q).
    slope : array of shape (n,)
        Its derivative by `lost`.
    """
    apart = lost > SMALL
    by = np.where(apart, lost, 1.0)
    left = -np.expm1(-by)
    counted = -np.expm1(-by * since) / left
    slope = (since * np.exp(-by * since) - counted * np.exp(-by)) / left
    limit = -0.5 * since * (since - 1.0)
    return np.where(apart, counted, since + lost * limit), np.where(apart, slope, limit)
