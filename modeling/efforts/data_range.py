"""The facts of a data set that a grid must follow, read off its rows."""

from __future__ import annotations

import numpy as np

from modeling.curve.shapes import DataRange
from modeling.efforts.observations import AthleteRows

__all__ = ["NOTHING", "data_range"]


NOTHING = 1e-6
"""Share of the largest volume that is no volume: what is left of it after a day's rest."""


def data_range(
    rows: list[AthleteRows], farthest_volume: float = 0.0, least_noise: float = 0.0
) -> DataRange:
    """Read off the facts that a grid must follow.

    Parameters
    ----------
    rows : list of AthleteRows
    farthest_volume : float
        Volumes up to this matter anyway.
    least_noise : float
        Differences smaller than this are those of rounding, not of efforts.
    """
    volume = np.concatenate([r.volume for r in rows])
    positive = volume[volume > NOTHING * max(float(volume.max()), farthest_volume)]
    if len(positive) == 0:
        positive = np.array([1.0])
    differences, swings = [], []
    rng = np.random.default_rng(0)
    for r in rows:
        # Efforts at one volume lie in the order of their values, whose steps say nothing of noise.
        order = np.lexsort((rng.random(r.efforts), r.volume, r.session_index))
        same = np.diff(r.session_index) == 0
        differences.append(np.diff(r.value[order])[same])
        low, high = np.quantile(r.value - np.median(r.value), [0.05, 0.95])
        swings.append(high - low)
    jumps = np.abs(np.concatenate(differences))
    scale = max(float(np.median(np.abs(np.concatenate([r.value for r in rows])))), 1e-3)
    # The median of |difference| of two normal values is 0.954 of their standard deviation.
    noise = float(np.median(jumps)) / 0.954 if len(jumps) else 0.0
    if noise <= 0.0:
        noise = max(float(np.median(swings)) / 3.3, 1e-3 * scale)
    return DataRange(
        lowest_volume=float(positive.min()),
        highest_volume=max(float(positive.max()), farthest_volume),
        typical_volume=float(np.exp(np.log(positive).mean())),
        swing=float(np.max(swings)),
        noise=max(noise, least_noise),
    )
