"""One athlete's inverse covariance, which `cell_likelihood` derives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotri

from modeling.efforts.observations import AthleteRows
from modeling.efforts.spots import Spots

FloatArray = NDArray[np.float64]

LEARNED_SIZES = ("effort", "day", "drift", "session_curve")
"""The sizes that are learned from a squad's residuals."""


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
    curve : float
        Of an athlete's deviation from every curve of the family (see `spots`).
    session_curve : float
        Of a session's own deviation.
    """

    effort: float
    day: float
    drift: float
    effort_df: float = 8.0
    day_df: float = 8.0
    curve: float = 0.0
    session_curve: float = 0.0

    def doubted(self, share: float) -> NoiseSizes:
        """Return sizes under which every effort tells only a share of what it does now."""
        wider = {name: getattr(self, name) * share**-0.5 for name in LEARNED_SIZES}
        return replace(self, **wider)


@dataclass(frozen=True)
class SessionModel:
    """One athlete's inverse covariance, in the small space of spots.

    Attributes
    ----------
    spots : Spots
        The efforts by session and place.
    noise : NoiseSizes
    level_sd : float
    weight : array of shape (n_efforts,)
        Inverse variance of each effort, weight / effort^2.
    per_spot : array of shape (n_spots,)
        Sum of `weight` in each spot.
    own_told : array of shape (n_spots, n_spots)
        (K + D^-1)^-1 with the level known and D the diagonal of `per_spot`: the precision of the
        spots' means.
    level_pull : array of shape (n_spots,)
        `own_told` times 1: what each spot's mean says about the level.
    level_variance : float
        Posterior variance of the level. The level is added last, as one more effect: beside its
        variance, that of efforts nearly free of noise would lose all its digits.
    level_open : float
        The same as a share of the level's prior variance.
    day_variance : array of shape (n_sessions,)
        Variance of each session's own day effect.
    log_determinant : float
        log det V.
    """

    spots: Spots
    noise: NoiseSizes
    level_sd: float
    weight: FloatArray
    per_spot: FloatArray
    own_told: FloatArray
    level_pull: FloatArray
    level_variance: float
    level_open: float
    day_variance: FloatArray
    log_determinant: float

    @classmethod
    def of(
        cls,
        spots: Spots,
        noise: NoiseSizes,
        level_sd: float,
        effort_weight: FloatArray,
        day_weight: FloatArray,
    ) -> SessionModel:
        """Build it from the noise sizes and the weights that heavy tails give."""
        weight = spots.rows.weight * effort_weight / noise.effort**2
        per_spot = spots.sums(weight)
        day_variance = noise.day**2 / day_weight
        between = noise.drift**2 * spots.alike_in_time
        np.einsum("ss->s", between)[:] += day_variance
        covariance = between.take(spots.session, axis=0).take(spots.session, axis=1)
        if noise.curve:
            covariance += noise.curve**2 * spots.alike
        if noise.session_curve:
            spots.add_in_session(covariance, noise.session_curve**2)
        told, log_det = precision_of_means(covariance, per_spot)
        level_pull = told.sum(axis=1)
        more = level_sd**2 * float(level_pull.sum())
        return cls(
            spots=spots,
            noise=noise,
            level_sd=level_sd,
            weight=weight,
            per_spot=per_spot,
            own_told=told,
            level_pull=level_pull,
            level_variance=level_sd**2 / (1.0 + more),
            level_open=1.0 / (1.0 + more),
            day_variance=day_variance,
            log_determinant=log_det + float(np.log1p(more) - np.log(weight).sum()),
        )

    @property
    def rows(self) -> AthleteRows:
        """The efforts."""
        return self.spots.rows

    @cached_property
    def told(self) -> FloatArray:
        """Precision of the spots' means, the level unknown: (n_spots, n_spots)."""
        return self.own_told - self.level_variance * np.outer(self.level_pull, self.level_pull)

    @property
    def left(self) -> FloatArray:
        """Share of a spot's effects that its own efforts leave open: (n_spots,)."""
        return np.diagonal(self.told) / self.per_spot

    def spot_means(self, column: FloatArray) -> FloatArray:
        """Weighted means of an (n_efforts, ...) array within spots (n_spots, ...)."""
        sums = self.spots.sums(_column(self.weight, column) * column)
        return sums / _column(self.per_spot, column)

    @cached_property
    def weight_tried(self) -> FloatArray:
        """`weight` by spot and volume tried: (n_spots, n_volumes)."""
        volumes, place = self.rows.tried
        shape = len(self.spots.session), len(volumes)
        cells = self.spots.of_effort * shape[1] + place
        weight = np.bincount(cells, self.weight, shape[0] * shape[1])
        return np.asarray(weight, dtype=float).reshape(shape)

    def means_of_curves(self, curves: FloatArray) -> FloatArray:
        """Weighted means within spots of curves at the volumes tried (n_volumes, ...)."""
        return np.asarray((self.weight_tried @ curves) / _column(self.per_spot, curves))

    def pull(self, means: FloatArray) -> FloatArray:
        """V^-1 applied to residuals, summed within spots, from the spots' means (n_spots, ...).

        Multiplied by an effect's covariance with the spots, it gives that effect's posterior mean.
        """
        level = self.level_variance * (self.level_pull @ means)
        return self.own_told @ means - _column(self.level_pull, means) * level

    def effects(self, residual: FloatArray) -> FloatArray:
        """Posterior means of the spots' effects given residuals (n_efforts, ...)."""
        means = self.spot_means(residual)
        return self.effects_of(means, self.pull(means))

    def effects_of(self, means: FloatArray, pull: FloatArray) -> FloatArray:
        """Give the same from the spots' means of residuals and their `pull` (n_spots, ...)."""
        return means - pull / _column(self.per_spot, means)

    def precision_times(self, column: FloatArray) -> FloatArray:
        """V^-1 applied to an (n_efforts, ...) array."""
        left = column - self.effects(column)[self.spots.of_effort]
        return _column(self.weight, column) * left

    @property
    def precise_one(self) -> FloatArray:
        """V^-1 1, shape (n_efforts,); its sum is how much the efforts tell of the level."""
        share = self.level_open * self.level_pull / self.per_spot
        return self.weight * share[self.spots.of_effort]

    @property
    def _between(self) -> FloatArray:
        """Covariance of the sessions' level, drift and day effects together."""
        between = self.level_sd**2 + self.noise.drift**2 * self.spots.alike_in_time
        np.einsum("ss->s", between)[:] += self.day_variance
        return between

    def session_effects(self, pull: FloatArray) -> FloatArray:
        """Posterior means of the sessions' level, drift and day effects (n_sessions, ...)."""
        return self._between @ self.spots.by_session(pull)

    @cached_property
    def session_told(self) -> FloatArray:
        """`told`, summed within sessions: (n_sessions, n_sessions)."""
        return self.spots.by_session(self.spots.by_session(self.told).T)

    @cached_property
    def drift_told(self) -> FloatArray:
        """The drift's correlations times `told`: (n_sessions, n_spots)."""
        return self.spots.drifting(self.spots.by_session(self.told))

    @property
    def session_variances(self) -> FloatArray:
        """Posterior variances of the sessions' effects, shape (n_sessions,)."""
        between = self._between
        known = self.level_sd**2 * self.session_told.sum(axis=0)
        known = known + self.noise.drift**2 * self.spots.by_session(self.drift_told.T).T
        known += self.day_variance[:, None] * self.session_told
        return np.maximum(np.diagonal(between) - np.einsum("st,st->s", known, between), 0.0)

    @property
    def shrink(self) -> FloatArray:
        """Posterior covariance of the spots' effects, (n_spots, n_spots)."""
        shrink = -self.told / np.outer(self.per_spot, self.per_spot)
        np.einsum("ss->s", shrink)[:] += 1.0 / self.per_spot
        return shrink

    def deviation(self, pull: FloatArray) -> FloatArray:
        """Posterior means of the athlete's own deviation at the spots (n_spots, ...)."""
        return self.noise.curve**2 * (self.spots.alike @ pull)


def precision_of_means(covariance: FloatArray, per_spot: FloatArray) -> tuple[FloatArray, float]:
    """Return (K + D^-1)^-1 and log det(I + K D), whether or not K is singular.

    D is the diagonal of `per_spot`.
    """
    root = np.sqrt(per_spot)
    inner = root[:, None] * covariance
    inner *= root
    np.einsum("ss->s", inner)[:] += 1.0
    lower = np.linalg.cholesky(inner)
    half, _ = dpotri(lower, lower=True)  # the lower triangle of the inverse, and zeros
    told = half + half.T
    np.einsum("ss->s", told)[:] *= 0.5
    told *= root[:, None]
    told *= root
    return told, 2.0 * float(np.log(np.diagonal(lower)).sum())


def _column(weight: FloatArray, like: FloatArray) -> FloatArray:
    return weight.reshape(weight.shape + (1,) * (like.ndim - 1))
