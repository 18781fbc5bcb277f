"""One athlete's posterior: cells with weights, and what is read off them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import Grid
from modeling.efforts.observations import AthleteRows
from modeling.fit.athlete_grid import TailWeights
from modeling.fit.drawn import Drawn, even_sample
from modeling.fit.pooling import Moments

__all__ = ["Posterior", "grid_moments", "likely_cells", "plausible_range"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

OUTSIDE = 2e-4
"""Share of an athlete's posterior that may lie beyond either end of their fine grid."""

NEGLIGIBLE = 1e-5
"""Posterior weight that may be dropped with the least likely cells."""


@dataclass(frozen=True)
class Posterior:
    """One athlete's posterior over cells.

    Attributes
    ----------
    rows : AthleteRows or None
        The efforts behind it; None for an athlete without data.
    grid : Grid
        The athlete's own grid, laid where their posterior lives.
    cells : array of shape (n_kept,)
        Flat indices into (n_forms, n_cells_per_form); all but a negligible part.
    weight : array of shape (n_kept,)
        Their probabilities.
    log_evidence : float
        Log marginal likelihood of the efforts.
    drawn : Drawn
        Curves at even steps of the posterior; None for a family that is no warm-up response.
    weights : TailWeights or None
        Weights of efforts and days under heavy tails; None for an athlete without data.
    """

    rows: AthleteRows | None
    grid: Grid
    cells: IntArray
    weight: FloatArray
    log_evidence: float
    drawn: Drawn | None
    weights: TailWeights | None

    @property
    def draws(self) -> Drawn:
        """The curves drawn.

        Raises
        ------
        TypeError
            The family is no warm-up response.
        """
        if self.drawn is None:
            raise TypeError("No curves are drawn of a family that is no warm-up response.")
        return self.drawn

    def coordinates(self, cells: IntArray) -> FloatArray:
        """Coordinates of flat cells: (n_cells, n_coordinates)."""
        return self.grid.at(cells)

    def mass(self, coordinate: int) -> tuple[FloatArray, FloatArray]:
        """Nodes of one coordinate and the probability of each."""
        axis = self.grid.axes[coordinate]
        place = np.unravel_index(self.cells % self.grid.cells_per_form, self.grid.sizes)[coordinate]
        return axis, np.asarray(np.bincount(place, self.weight, len(axis)), dtype=float)

    def quantiles(self, coordinate: int, shares: FloatArray) -> FloatArray:
        """Quantiles of one coordinate, with each cell's weight spread evenly over the cell."""
        return _quantiles(*self.mass(coordinate), shares)

    def quantiles_of(self, value: FloatArray, shares: FloatArray) -> FloatArray:
        """Quantiles of a value known in every cell of a form, (n_cells_per_form,).

        Each cell's weight is spread as for `quantiles`.
        """
        nodes, place = np.unique(value, return_inverse=True)
        mass = np.bincount(place[self.cells % len(value)], self.weight, len(nodes))
        return _quantiles(nodes, np.asarray(mass, dtype=float), shares)

    def sample(self, count: int) -> IntArray:
        """Take `count` cells at even steps of cumulative probability: the same every time."""
        return self.cells[even_sample(self.weight, count)]


def plausible_range(axis: FloatArray, box: FloatArray, d: int) -> tuple[float, float]:
    """Find the part of an axis that holds nearly all the mass, and a node more at either end."""
    others = tuple(other for other in range(box.ndim) if other != d)
    # Ends may lie between nodes: a tiny change in the data then moves the grid only a little.
    ends = _quantiles(axis, box.sum(axis=others), np.array([OUTSIDE, 1.0 - OUTSIDE]))
    step = axis[1] - axis[0]
    return float(ends[0] - step), float(ends[1] + step)


def _quantiles(nodes: FloatArray, mass: FloatArray, shares: FloatArray) -> FloatArray:
    """Quantiles (shares strictly between 0 and 1) of mass spread evenly around its nodes.

    A node's mass reaches halfway to its neighbours; that of an end node reaches as far outwards.
    """
    between = (nodes[1:] + nodes[:-1]) / 2.0
    ends = np.concatenate([[2.0 * nodes[0]], between, [2.0 * nodes[-1]]])
    ends[0], ends[-1] = ends[0] - between[0], ends[-1] - between[-1]
    below = np.concatenate([[0.0], np.cumsum(mass) / mass.sum()])
    below[-1] = 1.0
    node = np.searchsorted(below, shares, side="left") - 1
    within = (shares - below[node]) / (below[node + 1] - below[node])
    return ends[node] + within * (ends[node + 1] - ends[node])


def grid_moments(share: FloatArray, axes: Sequence[FloatArray]) -> Moments:
    """Means and covariances of coordinates on grids.

    Parameters
    ----------
    share : array of shape (n_grids, n_cells_per_form)
        Probabilities of the cells.
    axes : sequence of d arrays of shape (n_grids, n_nodes_i)
        The nodes of each coordinate.
    """
    box = share.reshape(len(share), *(axis.shape[1] for axis in axes))
    size = len(axes)
    mean, covariance = np.empty((len(box), size)), np.empty((len(box), size, size))
    apart = []
    for d, axis in enumerate(axes):
        mass = box.sum(axis=tuple(other + 1 for other in range(size) if other != d))
        mean[:, d] = np.einsum("gn,gn->g", mass, axis)
        apart.append(axis - mean[:, d, None])
        covariance[:, d, d] = np.einsum("gn,gn,gn->g", mass, apart[d], apart[d])
        for e in range(d):
            both = box.sum(axis=tuple(other + 1 for other in range(size) if other not in (d, e)))
            along = np.einsum("gmn,gn->gm", both, apart[d])
            covariance[:, d, e] = covariance[:, e, d] = np.einsum("gm,gm->g", along, apart[e])
    return Moments(mean, covariance)


def likely_cells(weight: FloatArray) -> tuple[IntArray, FloatArray]:
    """Drop the least likely cells, which together weigh less than `NEGLIGIBLE`."""
    cells = np.flatnonzero(weight >= NEGLIGIBLE * weight.sum() / len(weight))
    kept = weight[cells]
    return cells, kept / kept.sum()
