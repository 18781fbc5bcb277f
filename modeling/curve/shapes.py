"""Curve families on a grid.

A family is a set of curves that are linear in a few amplitudes once their shape is chosen::

    f(v) = sum_j  amplitude_j(cell) * basis_j(v; shape of the cell)

Everything that is linear integrates out of the model exactly (see `cell_likelihood`), so a
family only has to say which shapes and amplitudes its grid holds. Cells are laid out as
(form, coordinates): forms occur in the squad in unknown proportions, and its athletes are normally
distributed in the coordinates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "CurveFamily",
    "DataRange",
    "Grid",
    "Hyperprior",
    "ResponseFamily",
    "even_axes",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

LEAST_WIDTH = 1e-3
"""Smallest share of the widest range that a grid is laid over."""


@dataclass(frozen=True)
class Hyperprior:
    """The squad's prior: a normal and an inverse Wishart.

    Attributes
    ----------
    mean, mean_sd : arrays of shape (n_coordinates,)
        Where the squad's mean is expected, and how loosely.
    covariance : array of shape (n_coordinates, n_coordinates)
        The spread across athletes expected before any data.
    athletes : float
        How many athletes' worth of evidence `covariance` counts for.
    mean_df : float
        Degrees of freedom of the t distribution of the squad's mean; infinite for a normal.
    """

    mean: FloatArray
    mean_sd: FloatArray
    covariance: FloatArray
    athletes: float
    mean_df: float = np.inf

    def mean_precision(self, mean: FloatArray) -> FloatArray:
        """Give the prior precision of the squad's mean, once it seems to be at `mean`.

        Array of shape (n_coordinates,). A t distribution is like a normal with an uncertain
        variance: a mean far away makes it less precise.
        """
        precision = self.mean_sd**-2.0
        if np.isinf(self.mean_df):
            return precision
        apart = float(((mean - self.mean) ** 2 * precision).sum())
        return precision * min(1.0, (self.mean_df + len(mean)) / (self.mean_df + apart))


@dataclass(frozen=True)
class DataRange:
    """The facts of a data set that a grid must follow.

    Attributes
    ----------
    lowest_volume, highest_volume : float
        Smallest volume above 0 and largest volume tried by anyone.
    typical_volume : float
        Geometric mean of the volumes above 0.
    swing : float
        Largest robust range of one athlete's transformed values within a session.
    noise : float
        First guess at the standard deviation of an effort.
    """

    lowest_volume: float
    highest_volume: float
    typical_volume: float
    swing: float
    noise: float

    @property
    def peaks(self) -> tuple[float, float]:
        """Least and largest best volume that the data can bear on."""
        # One volume far above all others must not rule out small peaks for everybody.
        small = min(self.highest_volume / 500, self.typical_volume / 50)
        return max(0.7 * self.lowest_volume, small), 2.5 * self.highest_volume

    @property
    def gains(self) -> tuple[float, float]:
        """Least and largest gain that the data can bear on, as a change of the log."""
        return 0.1 * self.noise, max(2.0 * self.swing, 4.0 * self.noise)


@dataclass(frozen=True)
class Grid:
    """The cells of a family.

    Attributes
    ----------
    axes : tuple of arrays
        The nodes of each coordinate, evenly spaced.
    names : tuple of str
        The coordinates' names.
    forms : int
        Number of forms.
    node : tuple of arrays of shape (n_shapes,)
        For each basis function, which of its nodes a shape uses; shapes are laid out
        (form, leading coordinates).
    amplitude : array of shape (n_groups, n_amplitudes, n_basis)
        Amplitudes of the trailing coordinates; shapes take the groups in turn: shape s belongs to
        group s modulo n_groups.
    """

    axes: tuple[FloatArray, ...]
    names: tuple[str, ...]
    forms: int
    node: tuple[IntArray, ...]
    amplitude: FloatArray

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """Number of nodes of each coordinate."""
        return tuple(len(axis) for axis in self.axes)

    @cached_property
    def cell_volume(self) -> float:
        """Volume of one cell in coordinates."""
        return float(np.prod([axis[1] - axis[0] for axis in self.axes]))

    @property
    def coordinates(self) -> FloatArray:
        """Coordinates of every cell of a form: (n_cells_per_form, n_coordinates).

        Worked out on demand: those of thousands of athletes' grids would fill the memory.
        """
        return np.stack([axis.ravel() for axis in np.meshgrid(*self.axes, indexing="ij")], axis=1)

    def at(self, cells: IntArray) -> FloatArray:
        """Coordinates of some flat cells, of any form: (n_cells, n_coordinates)."""
        nodes = np.unravel_index(cells % self.cells_per_form, self.sizes)
        return np.stack([axis[own] for axis, own in zip(self.axes, nodes, strict=True)], axis=1)

    @property
    def shapes(self) -> int:
        """Number of shapes, over all forms."""
        return len(self.node[0])

    @cached_property
    def cells_per_form(self) -> int:
        """Number of coordinate cells, the same for every form."""
        return int(np.prod(self.sizes))

    @property
    def amplitudes(self) -> int:
        """Number of amplitude settings a shape is combined with."""
        return self.amplitude.shape[1]


class CurveFamily(Protocol):
    """What the engine asks of a family of curves."""

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid, from the data's range or around (lowest, highest) coordinates."""
        ...

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate basis function j: array of shape (n_volumes, n_nodes_j)."""
        ...

    def hyperprior(self, data: DataRange) -> Hyperprior | None:
        """Give the squad's prior, or None if there is none."""
        ...


class ResponseFamily(CurveFamily, Protocol):
    """A family of warm-up responses: what is read off its cells.

    The first coordinate is the log of best volume, and `gain` says which one is the log of gain.
    """

    @property
    def gain(self) -> int:
        """Which coordinate is the log of gain."""
        ...

    def curves(self, form: IntArray, coordinates: FloatArray, volume: FloatArray) -> FloatArray:
        """Evaluate curves anywhere, on a grid or between its nodes.

        Parameters
        ----------
        form : array of shape (n_curves,)
        coordinates : array of shape (n_curves, n_coordinates)
        volume : array of shape (n_volumes,)

        Returns
        -------
        array of shape (n_volumes, n_curves)
            Log performance against the curve's own peak.
        """
        ...


def even_axes(
    widest: tuple[FloatArray, FloatArray],
    around: tuple[FloatArray, FloatArray] | None,
    coarse: Sequence[int],
    fine: Sequence[int],
) -> tuple[FloatArray, ...]:
    """Space nodes evenly over the widest range, or over a narrower one around something.

    Parameters
    ----------
    widest, around : tuples of two arrays of shape (n_coordinates,)
        Lowest and highest coordinates.
    coarse, fine : sequences of int
        Nodes of each coordinate: over the widest range, and over a narrower one.
    """
    low, high = widest
    if around is not None:
        # Volumes in effect may have moved since, and the widest range with them.
        least = LEAST_WIDTH * (high - low)
        low, high = np.clip(around[0], low, high - least), np.clip(around[1], low + least, high)
    counts = coarse if around is None else fine
    ends = zip(low, high, counts, strict=True)
    return tuple(np.linspace(lowest, highest, count) for lowest, highest, count in ends)
