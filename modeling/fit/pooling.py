"""The squad's distribution, learned from all athletes at once (empirical Bayes).

Athletes' coordinates are normal across the squad, and forms occur in unknown proportions. The
proportions are updated as in a mixture with known components (Laird 1978), but each athlete's come
from the others alone. Otherwise their own efforts would count twice, which shows in a small squad
(collapsed variational Bayes: Asuncion and others 2009). The normal is updated by an EM step with
the correction that turns maximum likelihood into restricted maximum likelihood: the squad's mean is
itself uncertain, and ignoring that makes the athletes look too alike.

References
----------
Asuncion, Welling, Smyth & Teh (2009), On smoothing and inference for topic models, UAI 25.
Laird (1978), Nonparametric maximum likelihood estimation of a mixing distribution, JASA 73.
Laird & Ware (1982), Random-effects models for longitudinal data, Biometrics 38, 963-974.
Louis (1982), Finding the observed information matrix when using the EM algorithm, JRSS B 44.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from modeling.compute.sums import Sums
from modeling.curve.shapes import Hyperprior

__all__ = [
    "Moments",
    "NormalAcross",
    "NormalSums",
    "form_shares",
    "grid_log_density",
    "log_density",
    "others_forms",
    "update_normal",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class NormalAcross:
    """A normal distribution across athletes.

    Attributes
    ----------
    mean : array of shape (d,)
    covariance : array of shape (d, d)
    mean_covariance : array of shape (d, d)
        How uncertain `mean` itself is.
    """

    mean: FloatArray
    covariance: FloatArray
    mean_covariance: FloatArray

    @property
    def sd(self) -> FloatArray:
        """Standard deviations, shape (d,)."""
        return np.sqrt(np.diag(self.covariance))

    def moved(self, before: NormalAcross) -> float:
        """Largest move of a mean or a spread since `before`, as a share of the spread."""
        moves = np.concatenate([self.mean - before.mean, self.sd - before.sd])
        return float(np.max(np.abs(moves) / np.tile(before.sd, 2)))

    def widened(self) -> NormalAcross:
        """Add the uncertainty of the mean to the spread, for results about one athlete."""
        return replace(self, covariance=self.covariance + self.mean_covariance)


@dataclass(frozen=True)
class Moments:
    """Posterior means (n_athletes, d) and covariances (n_athletes, d, d) of the athletes."""

    mean: FloatArray
    covariance: FloatArray


def log_density(points: FloatArray, across: NormalAcross) -> FloatArray:
    """Log density of the normal at points of shape (..., d)."""
    root = np.linalg.cholesky(across.covariance)
    scaled = (points - across.mean) @ np.linalg.inv(root).T
    constant = points.shape[-1] * np.log(2.0 * np.pi) / 2.0 + np.log(np.diag(root)).sum()
    return -0.5 * np.einsum("...d,...d->...", scaled, scaled) - constant


def grid_log_density(axes: Sequence[FloatArray], across: NormalAcross) -> FloatArray:
    """Log density on many grids at once, without laying out their points.

    Parameters
    ----------
    axes : sequence of d arrays of shape (n_grids, n_nodes_i)
        The nodes of each coordinate.
    across : NormalAcross

    Returns
    -------
    array of shape (n_grids, n_nodes_1 * ... * n_nodes_d)
        In the order of `numpy.meshgrid` with matrix indexing.
    """
    precision = np.linalg.inv(across.covariance)
    size = len(precision)
    constant = 0.5 * (size * np.log(2.0 * np.pi) - np.linalg.slogdet(precision)[1])
    total = np.full(len(axes[0]), -constant)
    # With x the coordinates so far and z the next: add -z (P_zx x + P_zz z / 2).
    pulls = [np.zeros(len(axes[0])) for _ in axes]
    for i, axis in enumerate(axes):
        shape = (len(axis),) + (1,) * (total.ndim - 1) + (axis.shape[1],)
        z = (axis - across.mean[i]).reshape(shape)
        total = total[..., None] - z * (pulls[i][..., None] + 0.5 * precision[i, i] * z)
        for later in range(i + 1, size):
            pulls[later] = pulls[later][..., None] + precision[later, i] * z
    return total.reshape(len(total), -1)


def form_shares(evidence: FloatArray, weight: FloatArray) -> FloatArray:
    """Say how likely each form is for each athlete: (n_athletes, n_forms).

    Parameters
    ----------
    evidence, weight : arrays of shape (n_athletes, n_forms)
        Relative likelihood of each form, and its proportion among the other athletes so far.
    """
    share = evidence * weight
    return np.asarray(share / share.sum(axis=1, keepdims=True), dtype=float)


def others_forms(total: FloatArray, share: FloatArray) -> FloatArray:
    """Give each athlete the forms' proportions among the others: (n_athletes, n_forms).

    Parameters
    ----------
    total : array of shape (n_forms,)
        Sum of all athletes' shares, plus what each form starts with.
    share : array of shape (n_athletes, n_forms)
        From `form_shares`.
    """
    weight = total - share
    return np.asarray(weight / weight.sum(axis=1, keepdims=True), dtype=float)


@dataclass(frozen=True)
class NormalSums(Sums):
    """What athletes' posteriors say about the normal across them, given that of the last step.

    Attributes
    ----------
    athletes : array of shape ()
        How many.
    apart : array of shape (d,)
        Their means minus the mean of the last step.
    scatter : array of shape (d, d)
        Products of these.
    covariance : array of shape (d, d)
        Their covariances.
    told : array of shape (d, d)
        How much of each posterior comes from the athlete's own data, on the scale where the last
        step's distribution is a unit normal: 1 is all, 0 none.
    own : array of shape (d, d, d, d)
        Products of the same in coordinates, to put any covariance between the two.
    """

    athletes: FloatArray
    apart: FloatArray
    scatter: FloatArray
    covariance: FloatArray
    told: FloatArray
    own: FloatArray

    @classmethod
    def of(cls, moments: Moments, current: NormalAcross) -> NormalSums:
        """Work this out for each athlete, along a first axis."""
        root = np.linalg.cholesky(current.covariance)
        unroot = np.linalg.inv(root)
        # A posterior that is not normal can be wider than the squad; it then tells nothing, not
        # less than nothing.
        share, ways = np.linalg.eigh(unroot @ moments.covariance @ unroot.T)
        told = (ways * np.clip(1.0 - share, 0.0, 1.0)[:, None, :]) @ np.swapaxes(ways, 1, 2)
        own = root @ told @ unroot
        apart = moments.mean - current.mean
        return cls(
            athletes=np.ones(len(apart)),
            apart=apart,
            scatter=apart[:, :, None] * apart[:, None, :],
            covariance=moments.covariance,
            told=told,
            own=own[:, :, :, None, None] * own[:, None, None, :, :],
        )


def update_normal(
    sums: NormalSums, current: NormalAcross, before: Hyperprior | None = None
) -> NormalAcross:
    """One EM step for the normal across athletes, restricted-likelihood style.

    Parameters
    ----------
    sums : NormalSums
        The athletes' posteriors under `current`.
    current : NormalAcross
        The distribution of the last step.
    before : Hyperprior, optional
        The prior; None leaves all to the data.
    """
    athletes = sums.athletes
    unroot = np.linalg.inv(np.linalg.cholesky(current.covariance))
    precision = unroot.T @ unroot
    information = unroot.T @ sums.told @ unroot
    pooled = athletes * precision
    target = precision @ (sums.apart + athletes * current.mean)
    if before is not None:
        prior_precision = np.diag(before.mean_precision(current.mean))
        information = information + prior_precision
        pooled = pooled + prior_precision
        target = target + prior_precision @ before.mean
    mean = np.linalg.solve(pooled, target)
    mean_covariance = np.asarray(np.linalg.pinv(information, hermitian=True), dtype=float)
    moved = mean - current.mean
    crossed = np.outer(sums.apart, moved)
    scatter = (
        sums.covariance
        + sums.scatter
        - crossed
        - crossed.T
        + athletes * np.outer(moved, moved)
        + np.einsum("ijlk,jk->il", sums.own, mean_covariance)
    )
    if before is None:
        return NormalAcross(mean, scatter / athletes, mean_covariance)
    expected = before.athletes * before.covariance
    covariance = (scatter + expected) / (athletes + before.athletes)
    return NormalAcross(mean, covariance, mean_covariance)
