"""What one athlete's efforts say about every cell of the grid.

With y the transformed values, b the curve of a cell, and the level, the drift and the day
effects jointly normal, an athlete's efforts are normal given the cell::

    y ~ N(level_mean + context + b,  V),    V = effort^2 W^-1 + Z K Z'

Z says which session an effort belongs to, W holds the weights of the efforts, and K is the
covariance of the session means: level (shared by all sessions), drift (shared by sessions
near in time) and day (a session's own). Integrating level, drift and day out is therefore
exact (Rao-Blackwellised), and because a cell's curve is linear in its amplitudes, the
likelihood of every cell follows from a few inner products in the metric V^-1.

References
----------
Searle, Casella & McCulloch (1992), Variance Components, section 7.4 (Woodbury form of V^-1).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import CurveFamily, Grid
from modeling.efforts.session_model import SessionModel

__all__ = ["Features", "cell_log_likelihood", "features"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Features:
    """Inner products in the metric V^-1, one set per shape of the grid.

    Attributes
    ----------
    linear : array of shape (n_shapes, n_basis)
        b_j' V^-1 y.
    quadratic : array of shape (n_shapes, n_basis, n_basis)
        b_j' V^-1 b_k.
    of_level : array of shape (n_shapes, n_basis)
        b_j' V^-1 1, needed if the level follows the curve.
    level_linear, level_quadratic : float
        1' V^-1 y and 1' V^-1 1.
    constant : float
        Log density of the efforts for a flat curve.
    """

    linear: FloatArray
    quadratic: FloatArray
    of_level: FloatArray
    level_linear: float
    level_quadratic: float
    constant: float


def features(
    model: SessionModel, centred: FloatArray, basis: tuple[FloatArray, ...], grid: Grid
) -> Features:
    """Compute the inner products of one athlete's centred values and basis functions.

    Parameters
    ----------
    model : SessionModel
        The athlete's inverse covariance.
    centred : array of shape (n_efforts,)
        Values less the level's mean and the context's effect.
    basis : tuple of arrays of shape (n_volumes, n_nodes_j)
        Each basis function at the volumes that the athlete tried.
    grid : Grid
        Which nodes a shape uses.
    """
    rows = model.rows
    volumes, place = rows.tried
    tried = len(volumes)

    def linear(precise: FloatArray) -> FloatArray:
        at_volumes = np.bincount(place, precise, tried)
        found = [(at_volumes @ b)[node] for b, node in zip(basis, grid.node, strict=True)]
        return np.stack(found, axis=1)

    # Within spots and between them: b' V^-1 b = b' W b - m' D m + m' (K + D^-1)^-1 m, with m the
    # spots' means of b.
    spots = model.spots
    weighted = [model.weight_tried.sum(axis=0)[:, None] * b for b in basis]
    sums = [model.means_of_curves(b) for b in basis]
    between = np.diag(model.per_spot) - model.own_told
    shrunk = [between @ each for each in sums]
    quadratic = np.empty((grid.shapes, len(basis), len(basis)))
    for j, node in enumerate(grid.node):
        own = (basis[j] * weighted[j]).sum(axis=0) - (sums[j] * shrunk[j]).sum(axis=0)
        quadratic[:, j, j] = own[node]
        for k in range(j):
            cross = basis[j].T @ weighted[k] - sums[j].T @ shrunk[k]
            quadratic[:, j, k] = quadratic[:, k, j] = cross[node, grid.node[k]]
    at_level = (model.weight / model.per_spot[spots.of_effort]) * model.level_pull[spots.of_effort]
    of_level = linear(at_level)
    quadratic -= model.level_variance * of_level[:, :, None] * of_level[:, None, :]
    precise_y = model.precision_times(centred)
    return Features(
        linear=linear(precise_y),
        quadratic=quadratic,
        of_level=model.level_open * of_level,
        level_linear=float(precise_y.sum()),
        level_quadratic=float(model.precise_one.sum()),
        constant=-0.5
        * (
            float(centred @ precise_y)
            + model.log_determinant
            + len(centred) * float(np.log(2.0 * np.pi))
        ),
    )


def cell_log_likelihood(
    found: Features, grid: Grid, level_shift: FloatArray | None = None
) -> FloatArray:
    """Log density of one athlete's efforts in every cell.

    Parameters
    ----------
    found : Features
        The athlete's inner products.
    grid : Grid
        The cells.
    level_shift : array of shape (n_cells_per_form,), optional
        How far the level's mean moves with the coordinates.

    Returns
    -------
    array of shape (n_forms, n_cells_per_form)
    """
    # a'l - a'Qa / 2 as one product per group of shapes: off-diagonal terms count twice.
    amplitude = np.moveaxis(grid.amplitude, 2, 1)
    left, right = _pairs(amplitude.shape[1])
    squares = amplitude[:, left] * amplitude[:, right]
    squares *= np.where(left == right, -0.5, -1.0)[:, None]
    factors = np.concatenate([amplitude, squares], axis=1)
    terms = np.concatenate([found.linear, found.quadratic[:, left, right]], axis=1)
    by_group = np.swapaxes(terms.reshape(-1, len(factors), terms.shape[1]), 0, 1) @ factors
    log_likelihood = np.swapaxes(by_group, 0, 1).reshape(grid.forms, grid.cells_per_form)
    log_likelihood += found.constant
    if level_shift is not None:
        pull = along_curve(found.of_level, grid)
        log_likelihood += level_shift * (
            found.level_linear - pull - 0.5 * found.level_quadratic * level_shift
        )
    return log_likelihood


@cache
def _pairs(basis: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Index every pair of basis functions once."""
    return np.tril_indices(basis)


def along_curve(per_basis: FloatArray, grid: Grid) -> FloatArray:
    """Sum amplitude times a per-shape, per-basis quantity: (n_forms, n_cells_per_form)."""
    by_group = per_basis.reshape(-1, len(grid.amplitude), per_basis.shape[1])
    total = np.einsum("rgj,gaj->rga", by_group, grid.amplitude)
    return total.reshape(grid.forms, grid.cells_per_form)


def curves_of_cells(
    family: CurveFamily, grid: Grid, cells: NDArray[np.intp], volume: FloatArray
) -> FloatArray:
    """Evaluate the curves of some cells: array of shape (n_volumes, n_cells).

    `cells` are flat indices into (n_forms, n_cells_per_form).
    """
    shape, setting = np.divmod(cells, grid.amplitudes)
    total = np.zeros((len(volume), len(cells)))
    for j, node in enumerate(grid.node):
        basis = family.basis(grid, j, volume)
        total += basis[:, node[shape]] * grid.amplitude[shape % len(grid.amplitude), setting, j]
    return total
