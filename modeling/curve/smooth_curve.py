"""A curve family of one smooth shape: a saturating rise minus a linear fatigue."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import DataRange, Grid, Hyperprior, even_axes
from modeling.curve.sides import Exponential

__all__ = ["SmoothRiseAndFall"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

LOG_BEND_RANGE = (-3.0, 4.0)
"""From a parabola to a rise that is over at once; beyond it curves no longer differ."""

BELOW_PEAK = Exponential(1.0)


@dataclass(frozen=True)
class SmoothRiseAndFall:
    """``a (1 - exp(-v / t)) - h v`` in log performance, in the coordinates of its peak.

    With x = best / t, called the bend, and phi(z) = exp(z) - 1 - z it is
    ``f(v) = -gain * phi(x (1 - v / best)) / phi(x)``: rise and fall are one curve, and a steep
    rise to the peak means a slow fall after it. The coordinates are (log best, log bend,
    log gain). The family is narrower than `RiseAndFall`, which has separate shapes on either
    side; if a squad's curves are like this, results are surer.

    Attributes
    ----------
    nodes, coarse_nodes : tuples of int
        Grid nodes for (best, bend, gain) in the final and in the first, wide pass.
    """

    nodes: tuple[int, int, int] = (16, 9, 8)
    coarse_nodes: tuple[int, int, int] = (22, 8, 7)
    names: tuple[str, ...] = ("log_best", "log_bend", "log_gain")
    gain: int = 2

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        (least, most), (smallest, largest) = data.peaks, data.gains
        shallowest, steepest = LOG_BEND_RANGE
        widest = (
            np.array([np.log(least), shallowest, np.log(smallest)]),
            np.array([np.log(most), steepest, np.log(largest)]),
        )
        axes = even_axes(widest, around, self.coarse_nodes, self.nodes)
        return Grid(
            axes=axes,
            names=self.names,
            forms=1,
            node=(np.arange(len(axes[0]) * len(axes[1])),),
            amplitude=-np.exp(axes[2])[None, :, None],
        )

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate the curve for a gain of 1; see `CurveFamily.basis`."""
        best, bend = (np.exp(a).ravel() for a in np.meshgrid(*grid.axes[:2], indexing="ij"))
        v = np.asarray(volume, dtype=float)[:, None]
        return BELOW_PEAK(bend * (1.0 - v / best)) / BELOW_PEAK(bend)

    def curves(self, form: IntArray, coordinates: FloatArray, volume: FloatArray) -> FloatArray:
        """Evaluate curves anywhere; see `ResponseFamily.curves`."""
        best, bend, gain = np.exp(coordinates.T)
        way = 1.0 - np.asarray(volume, dtype=float)[:, None] / best
        return -gain * BELOW_PEAK(bend * way) / BELOW_PEAK(bend)

    def hyperprior(self, data: DataRange) -> Hyperprior:
        """Expect what `RiseAndFall` does: with a bend of 1 the hold is about twice the peak.

        Common practice, no source; see there.
        """
        sd = np.array([0.7, 0.6, 0.5])
        return Hyperprior(
            mean=np.array([np.log(data.typical_volume), 0.0, np.log(0.06)]),
            mean_sd=np.array([1.5, 1.5, 1.2]),
            covariance=np.diag(sd**2),
            athletes=4.0,
        )
