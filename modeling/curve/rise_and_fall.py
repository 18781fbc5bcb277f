"""The family that rises to a peak and falls, with a shape of its own on either side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import DataRange, Grid, Hyperprior, even_axes
from modeling.curve.sides import Bend, Exponential, Power, Side, Step

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

DROP = 0.10
"""`hold` is the volume from the peak until performance is down by this share."""

LOG_DROP = -np.log1p(-DROP)


@dataclass(frozen=True)
class RiseAndFall:
    """Rise to a peak, then fall, with separate shapes on either side.

    ``f(v) = -gain * rise(1 - v / best) / rise(1)`` before the peak and
    ``f(v) = -log(1 / 0.9) * fall(v / best - 1) / fall(hold / best)`` after it, in log
    performance, so that f(best) = 0, f(0) = -gain and f(best + hold) is 10 % down. The
    coordinates are (log best, log gain, log hold); a form is a pair of sides. Sides steep at
    the peak make it sharp, flat ones make a plateau, a tiny gain no rise at all, and a huge
    hold no fall within reach.

    Attributes
    ----------
    rises, falls : tuples of Side
        The choices on either side.
    nodes, coarse_nodes : tuples of int
        Grid nodes for (best, gain, hold) in the final and in the first, wide pass.
    """

    rises: tuple[Side, ...] = (
        Power(1.0),
        Power(1.4),
        Exponential(2.0),
        Bend(0.4),
    )
    falls: tuple[Side, ...] = (
        Power(0.7),
        Power(1.0),
        Exponential(-0.7),
        Exponential(-3.0),
        Bend(0.4),
        Step(0.4),
        Step(1.2),
    )
    nodes: tuple[int, int, int] = (14, 7, 8)
    coarse_nodes: tuple[int, int, int] = (22, 7, 8)
    names: tuple[str, ...] = ("log_best", "log_gain", "log_hold")
    gain: int = 1

    def widest(self, data: DataRange) -> tuple[FloatArray, FloatArray]:
        """Give the lowest and highest coordinates that the data can bear on."""
        (least, most), (smallest, largest) = data.peaks, data.gains
        low = np.log([least, smallest, 0.3 * least])
        high = np.log([most, largest, 30.0 * data.highest_volume])
        return low, high

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        axes = even_axes(self.widest(data), around, self.coarse_nodes, self.nodes)
        p, q, b = (
            index.ravel()
            for index in np.meshgrid(
                np.arange(len(self.rises)),
                np.arange(len(self.falls)),
                np.arange(len(axes[0])),
                indexing="ij",
            )
        )
        best = len(axes[0])
        gain, hold = (a.ravel() for a in np.meshgrid(*axes[1:], indexing="ij"))
        # At hold, each node of the fall must be 10 % down: (n_falls * n_best, n_amplitudes).
        at_hold = self._falls(np.exp(hold)[:, None], np.exp(axes[0])).T
        rise = np.broadcast_to(-np.exp(gain), at_hold.shape)
        return Grid(
            axes=axes,
            names=self.names,
            forms=len(self.rises) * len(self.falls),
            node=(p * best + b, q * best + b),
            amplitude=np.stack([rise, -LOG_DROP / at_hold], axis=2),
        )

    def _falls(self, past: FloatArray, peak: FloatArray) -> FloatArray:
        """Evaluate every fall at volumes past the peak: (n_volumes, n_falls * n_best)."""
        distance = past / peak
        return np.concatenate([fall(distance) for fall in self.falls], axis=1)

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate the rise (j = 0) or the fall (j = 1); see `CurveFamily.basis`."""
        peak = np.exp(grid.axes[0])[None, :]
        v = np.asarray(volume, dtype=float)[:, None]
        if j == 0:
            way_to_go = np.clip(1.0 - v / peak, 0.0, None)
            cold = np.ones(1)
            return np.concatenate([rise(way_to_go) / rise(cold) for rise in self.rises], axis=1)
        return self._falls(np.clip(v - peak, 0.0, None), peak)

    def curves(self, form: IntArray, coordinates: FloatArray, volume: FloatArray) -> FloatArray:
        """Evaluate curves anywhere; see `ResponseFamily.curves`."""
        best, gain, hold = np.exp(coordinates.T)
        share = np.asarray(volume, dtype=float)[:, None] / best
        before, past = np.clip(1.0 - share, 0.0, None), np.clip(share - 1.0, 0.0, None)
        total = np.empty_like(share)
        which_rise, which_fall = np.divmod(form, len(self.falls))
        for number, rise in enumerate(self.rises):
            own = which_rise == number
            total[:, own] = -gain[own] * rise(before[:, own]) / rise(np.ones(1))
        for number, fall in enumerate(self.falls):
            own = which_fall == number
            total[:, own] -= LOG_DROP * fall(past[:, own]) / fall(hold[own] / best[own])
        return total

    def hyperprior(self, data: DataRange) -> Hyperprior:
        """Expect the peak and the hold near the volumes tried, and a gain of some per cent.

        Only the strength of this is a judgement (common practice, no source): the spreads allow a
        factor of about 2 between athletes, with the weight of four athletes; athletes who peak
        late are expected to last longer as well; and the means may be off by a factor of 4 or more.
        """
        volume = np.log(data.typical_volume)
        sd = np.array([0.7, 0.5, 0.6])
        together = np.array([[1.0, 0.0, 0.6], [0.0, 1.0, 0.0], [0.6, 0.0, 1.0]])
        return Hyperprior(
            mean=np.array([volume, np.log(0.06), volume + np.log(2.0)]),
            mean_sd=np.array([1.5, 1.2, 1.5]),
            covariance=together * np.outer(sd, sd),
            athletes=4.0,
        )
