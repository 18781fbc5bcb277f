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

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from modeling.curve import CurveFamily, Grid
from modeling.observations import AthleteRows
from modeling.session_precision import SessionPrecision, session_precision

__all__ = ["Features", "NoiseSizes", "SessionModel", "cell_log_likelihood", "features"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class NoiseSizes:
    """Standard deviations on the transformed scale.

    Attributes
    ----------
    effort : float
        From one effort to the next.
    day : float
        From one session to the next.
    drift : float
        Of the slow change over weeks and months.
    effort_df, day_df : float
        Degrees of freedom of the t distributions of efforts and days (large is normal).
    """

    effort: float
    day: float
    drift: float
    effort_df: float = 8.0
    day_df: float = 8.0

    def resized(self, effort: float, day: float, drift: float) -> NoiseSizes:
        """Return a copy with other sizes and the same tails."""
        return replace(self, effort=effort, day=day, drift=drift)


@dataclass(frozen=True)
class SessionModel:
    """One athlete's inverse covariance, in the small space of sessions.

    Attributes
    ----------
    rows : AthleteRows
        The efforts.
    weight : array of shape (n_efforts,)
        Inverse variance of each effort, weight / effort^2.
    per_session : array of shape (n_sessions,)
        Sum of `weight` in each session.
    between : SessionPrecision
        Inverse covariance of the sessions' means, with the level known.
    level_variance : float
        Posterior variance of the level. It is joined to the rest as one more effect, last: among
        efforts that are nearly free of noise, the level's variance beside theirs would leave no
        digit of theirs.
    level_open : float
        Its share of the variance beforehand.
    day_variance : array of shape (n_sessions,)
        Variance of each session's own day effect.
    log_determinant : float
        log det V.
    """

    rows: AthleteRows
    weight: FloatArray
    per_session: FloatArray
    between: SessionPrecision
    level_variance: float
    level_open: float
    day_variance: FloatArray
    log_determinant: float

    @classmethod
    def of(
        cls,
        rows: AthleteRows,
        noise: NoiseSizes,
        level_sd: float,
        effort_weight: FloatArray,
        day_weight: FloatArray,
    ) -> SessionModel:
        """Build it from the noise sizes and the weights that heavy tails give."""
        weight = rows.weight * effort_weight / noise.effort**2
        per_session = rows.session_sums(weight)
        day_variance = noise.day**2 / day_weight
        between = session_precision(rows.day, noise.drift, day_variance + 1.0 / per_session)
        model = cls(rows, weight, per_session, between, 0.0, 1.0, day_variance, 0.0)
        more = level_sd**2 * float(model.session_pull.sum())
        efforts = float(np.log(per_session).sum() - np.log(weight).sum())
        return replace(
            model,
            level_variance=level_sd**2 / (1.0 + more),
            level_open=1.0 / (1.0 + more),
            log_determinant=between.log_det + float(np.log1p(more)) + efforts,
        )

    def session_means(self, residual: FloatArray) -> FloatArray:
        """Posterior means of the session effects given residuals (n_efforts, ...)."""
        seen = self._seen(residual)
        return seen - self._between_times(seen) / _column(self.per_session, seen)

    def precision_times(self, column: FloatArray) -> FloatArray:
        """V^-1 applied to an (n_efforts, ...) array."""
        seen, session = self._seen(column), self.rows.session_index
        between = self._between_times(seen) / _column(self.per_session, seen)
        # What efforts share is small beside what sets them apart, so it is added last.
        return _column(self.weight, column) * (column - seen[session] + between[session])

    @cached_property
    def session_pull(self) -> FloatArray:
        """What each session's mean tells of the level, were it the first to: (n_sessions,)."""
        return self.between.times(np.ones(len(self.per_session)))

    @property
    def level_pull(self) -> FloatArray:
        """V^-1 1 were the level known, shape (n_efforts,)."""
        return self.weight * (self.session_pull / self.per_session)[self.rows.session_index]

    @property
    def precise_one(self) -> FloatArray:
        """V^-1 1, shape (n_efforts,); its sum is how much the efforts tell of the level."""
        return self.level_open * self.level_pull

    @property
    def left(self) -> FloatArray:
        """What a session's own efforts leave open of its mean, as a share of 1: (n_sessions,)."""
        own = self.between.diagonal - self.level_variance * self.session_pull**2
        return own / self.per_session

    @property
    def mean_variance(self) -> FloatArray:
        """Posterior variance of the session means, shape (n_sessions,)."""
        return (1.0 - self.left) / self.per_session

    def shrink(self) -> FloatArray:
        """Posterior covariance of the session means, (n_sessions, n_sessions)."""
        none = np.diag(self.per_session)
        return (none - self._between_times(np.eye(len(none)))) / np.outer(*[self.per_session] * 2)

    def _seen(self, residual: FloatArray) -> FloatArray:
        """Means of the efforts of each session."""
        sums = self.rows.session_sums(_column(self.weight, residual) * residual)
        return sums / _column(self.per_session, sums)

    def _between_times(self, seen: FloatArray) -> FloatArray:
        """Inverse covariance of the session means, the level with them, times (n_sessions, ...)."""
        level = self.level_variance * (self.session_pull @ seen)
        return self.between.times(seen - level)


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
        b_j' V^-1 1, what a level that follows the curve needs.
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

    # b' V^-1 b = b' W b - (Z' W b)' D^-1 (Z' W b) + m' C^-1 m with D = Z' W Z and the means
    # m = D^-1 Z' W b, W summed by session and volume; what the level brings is taken off last.
    cells = rows.session_index * tried + place
    weight = np.bincount(cells, model.weight, len(rows.sessions) * tried).reshape(-1, tried)
    weighted = [weight.sum(axis=0)[:, None] * b for b in basis]
    sums = [weight @ b for b in basis]
    means = [each / model.per_session[:, None] for each in sums]
    shrunk = [each - model.between.times(each) / model.per_session[:, None] for each in means]
    quadratic = np.empty((grid.shapes, len(basis), len(basis)))
    for j, node in enumerate(grid.node):
        own = (basis[j] * weighted[j]).sum(axis=0) - (sums[j] * shrunk[j]).sum(axis=0)
        quadratic[:, j, j] = own[node]
        for k in range(j):
            cross = basis[j].T @ weighted[k] - sums[j].T @ shrunk[k]
            quadratic[:, j, k] = quadratic[:, k, j] = cross[node, grid.node[k]]
    of_level = linear(model.level_pull)
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
    # a'l - a'Qa / 2 as one product per group of shapes: off-diagonal terms stand twice.
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


def _column(weight: FloatArray, like: FloatArray) -> FloatArray:
    return weight.reshape(weight.shape + (1,) * (like.ndim - 1))
