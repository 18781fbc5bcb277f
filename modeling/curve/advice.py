"""From an expected curve to the volume to propose."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["TIE_PCT", "advised_volume"]

TIE_PCT = 0.005
"""Volumes whose expected performance is this close count as equal; the shortest is advised."""


def advised_volume(
    volume: ArrayLike, change_pct: ArrayLike, efforts_to_follow: int = 1, step: float = 1.0
) -> float:
    """Volume that maximises the expected mean performance over the efforts to follow.

    Parameters
    ----------
    volume : array-like of shape (n,)
        Volumes in rising order.
    change_pct : array-like of shape (n,)
        Expected difference from the peak at each of them, in %.
    efforts_to_follow : int
        How many efforts count; each adds `step` to the volume before the next. Beyond the
        last volume the curve is held at its last value.
    step : float
        Volume that one effort adds.

    Returns
    -------
    float
        One of the volumes; of those within `TIE_PCT` of the best, the smallest.

    Raises
    ------
    ValueError
        `efforts_to_follow` is below 1.
    """
    if efforts_to_follow < 1:
        raise ValueError(f"efforts_to_follow must be 1 or more. Got {efforts_to_follow}.")
    v = np.asarray(volume, dtype=float)
    change = np.asarray(change_pct, dtype=float)
    ahead = v[:, None] + step * np.arange(efforts_to_follow)[None, :]
    mean = np.interp(ahead, v, change).mean(axis=1)
    return float(v[int(np.argmax(mean >= mean.max() - TIE_PCT))])
