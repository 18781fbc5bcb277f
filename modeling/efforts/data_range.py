"""The facts of a data set that a grid must follow, read off its rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from modeling.compute.sums import added, together
from modeling.curve.shapes import DataRange
from modeling.efforts.observations import AthleteRows

__all__ = ["NOTHING", "VolumesTried", "data_range"]


NOTHING = 1e-6
"""Up to this share of the largest volume counts as none: so little is left after a day's rest."""


@dataclass(frozen=True)
class VolumesTried:
    """What a data range needs about the volumes of some of the athletes.

    Attributes
    ----------
    lowest, highest : float
        Of the volumes that count; infinite and 0 if there are none.
    counted : array of shape (n, 2)
        How many these are and the sum of their logs, in n parts.
    """

    lowest: float
    highest: float
    counted: NDArray[np.float64]

    @classmethod
    def of(cls, rows: list[AthleteRows], nothing: float) -> VolumesTried:
        """Read them off rows; a volume up to `nothing` counts as none."""
        positive = [r.volume[r.volume > nothing] for r in rows]
        return cls(
            min(float(own.min(initial=np.inf)) for own in positive),
            max(float(own.max(initial=0.0)) for own in positive),
            added([np.array([[len(own), np.log(own).sum()] for own in positive])]),
        )

    @classmethod
    def together(cls, parts: Sequence[VolumesTried]) -> VolumesTried:
        """Join the parts of a squad; if nobody tried any volume, take a volume of 1."""
        counted = together([each.counted for each in parts])
        if counted[0] == 0:
            return cls(1.0, 1.0, np.array([[1.0, 0.0]]))
        lowest, highest = min(p.lowest for p in parts), max(p.highest for p in parts)
        return cls(lowest, highest, counted[None, :])

    def within(self, data: DataRange, farthest_volume: float) -> DataRange:
        """Replace a data range's own volumes by these."""
        count, log_sum = together([self.counted])
        return replace(
            data,
            lowest_volume=self.lowest,
            highest_volume=max(self.highest, farthest_volume),
            typical_volume=float(np.exp(log_sum / count)),
        )


def data_range(
    rows: list[AthleteRows], farthest_volume: float = 0.0, least_noise: float = 0.0
) -> DataRange:
    """Read off the facts that a grid must follow.

    Parameters
    ----------
    rows : list of AthleteRows
    farthest_volume : float
        Volumes up to this matter even if nobody tried them.
    least_noise : float
        Differences smaller than this come from rounding, not from efforts.
    """
    highest = max(float(r.volume.max()) for r in rows)
    nothing = NOTHING * max(highest, farthest_volume)
    volumes = VolumesTried.together([VolumesTried.of(rows, nothing)])
    differences, swings = [], []
    rng = np.random.default_rng(0)
    for r in rows:
        # Efforts at one volume are sorted by value, and sorted steps hide the noise: shuffle them.
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
    data = DataRange(0.0, 0.0, 0.0, float(np.max(swings)), max(noise, least_noise))
    return volumes.within(data, farthest_volume)
