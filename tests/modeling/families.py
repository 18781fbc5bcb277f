"""Families of curves with published fits, to check the engine against outside results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import DataRange, Grid

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class StraightLine:
    """``f(v) = slope * v``; the coordinate is the slope."""

    lowest: float
    highest: float
    nodes: int = 201

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        slope = np.linspace(self.lowest, self.highest, self.nodes)
        return Grid(
            axes=(slope,),
            names=("slope",),
            forms=1,
            node=(np.zeros(1, dtype=np.intp),),
            amplitude=slope[None, :, None],
        )

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate v itself; see `CurveFamily.basis`."""
        return np.asarray(volume, dtype=float)[:, None]

    def hyperprior(self, data: DataRange) -> None:
        """Think nothing of the squad beforehand."""
        return None


@dataclass(frozen=True)
class OneCompartment:
    """Rise and fall of a first-order process: absorption at rate ka, elimination at rate ke.

    ``f(t) = exp(log_ke + log_ka - log_cl) * (exp(-ke t) - exp(-ka t)) / (ka - ke)`` for a unit
    dose; the coordinates are (log ka, log cl) and log ke is common to all. Pinheiro & Bates
    (2000), Mixed-Effects Models in S and S-PLUS, section 8.2.
    """

    log_ke: float
    log_ka: tuple[float, float] = (-2.0, 3.0)
    log_cl: tuple[float, float] = (-4.2, -2.4)
    nodes: tuple[int, int] = (200, 100)

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        axes = (
            np.linspace(*self.log_ka, self.nodes[0]),
            np.linspace(*self.log_cl, self.nodes[1]),
        )
        shapes = np.arange(self.nodes[0])
        return Grid(
            axes=axes,
            names=("log_ka", "log_cl"),
            forms=1,
            node=(shapes,),
            amplitude=np.exp(-axes[1])[None, :, None],
        )

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate the curve for a clearance of 1; see `CurveFamily.basis`."""
        t = np.asarray(volume, dtype=float)[:, None]
        ka, ke = np.exp(grid.axes[0])[None, :], np.exp(self.log_ke)
        return ka * ke * (np.exp(-ke * t) - np.exp(-ka * t)) / (ka - ke)

    def hyperprior(self, data: DataRange) -> None:
        """Think nothing of the squad beforehand."""
        return None


@dataclass(frozen=True)
class SaturatingRise:
    """``f(v) = asymptote * (1 - exp(-rate v))``; the coordinates are (rate, asymptote)."""

    rate: tuple[float, float]
    asymptote: tuple[float, float]
    nodes: tuple[int, int] = (400, 400)

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        axes = (
            np.linspace(*self.rate, self.nodes[0]),
            np.linspace(*self.asymptote, self.nodes[1]),
        )
        shapes = np.arange(self.nodes[0])
        return Grid(
            axes=axes,
            names=("rate", "asymptote"),
            forms=1,
            node=(shapes,),
            amplitude=axes[1][None, :, None],
        )

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate the rise to 1; see `CurveFamily.basis`."""
        return -np.expm1(-np.asarray(volume, dtype=float)[:, None] * grid.axes[0][None, :])

    def hyperprior(self, data: DataRange) -> None:
        """Think nothing of the squad beforehand."""
        return None
