"""How large the noise is, and how much each effort and each day counts.

The sizes maximise the likelihood of the residuals averaged over a sample of each athlete's
plausible curves (the M-step of EM, with level, drift and day effects integrated out). Tails
are those of a t distribution, written as a normal whose variance differs from effort to effort
(and from day to day): an effort far from every plausible curve gets a small weight.

References
----------
Lange, Little & Taylor (1989), Robust statistical modeling using the t distribution, JASA 84.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from modeling.compute.sums import Sums
from modeling.efforts.session_model import NoiseSizes, SessionModel

__all__ = ["Residuals", "SizeScores", "TailSums", "learn_sizes", "tail_dfs", "tail_weights"]

FloatArray = NDArray[np.float64]

TAILS = (3.0, 4.0, 6.0, 10.0, 20.0, np.inf)
"""Degrees of freedom tried; infinity is the normal distribution."""

SCALE_STEPS = 12
"""Steps to find the best scale for each of them."""


COMPONENTS = ("effort", "day", "drift", "session_curve")
"""The sizes that are learned, in the order of scores."""

LARGEST_STEP = 9.0
"""A variance grows or shrinks by at most this factor in a round."""


@dataclass(frozen=True)
class SizeScores(Sums):
    """What one athlete says about the variances of `COMPONENTS`; for several, the sum.

    Attributes
    ----------
    score : array of shape (4,)
        Slope of the log likelihood in each variance.
    information : array of shape (4, 4)
        Fisher information, given the curves.
    """

    score: FloatArray
    information: FloatArray

    @classmethod
    def of(
        cls, model: SessionModel, left: FloatArray, pull: FloatArray, day_weight: FloatArray
    ) -> SizeScores:
        """Work them out from what `SessionModel` leaves of the residuals from sampled curves.

        With V the covariance, dV/dk = B_k and p = V^-1 r the score of a variance is
        (p' B_k p - tr(V^-1 B_k)) / 2 and the information tr(V^-1 B_k V^-1 B_l) / 2 (Patterson &
        Thompson 1971). Everything but the efforts' own noise acts on the spots. There B_k goes by
        sessions, or has a block for each of them, so no B_k is ever written out.
        """
        spots = model.spots

        alike = spots.alike_in_session

        def by_part(columns: FloatArray, drift: FloatArray) -> list[FloatArray]:
            day = spots.by_session(columns) / day_weight[:, None]
            return [day[spots.session], drift[spots.session], alike @ columns]

        told = by_part(model.told, model.drift_told)
        pulled = by_part(pull, spots.drifting(spots.by_session(pull)))
        share = model.told / model.per_spot
        variance = model.noise.effort**2
        within = len(model.weight) - len(spots.session)
        squares = float(model.weight @ np.einsum("ic,ic->i", left, left)) / left.shape[1]
        score = np.array(
            [(squares - within - np.trace(share)) / variance]
            + [
                float(np.vdot(pull, part)) / pull.shape[1] - np.trace(known)
                for part, known in zip(pulled, told, strict=True)
            ]
        )
        information = np.empty((4, 4))
        information[0, 0] = (within + _trace(share, share)) / variance**2
        for k, part in enumerate(told, start=1):
            information[0, k] = information[k, 0] = float(np.vdot(part, share)) / variance
            for m in range(1, k + 1):
                information[k, m] = information[m, k] = _trace(told[m - 1], part)
        return cls(0.5 * score, 0.5 * information)


def _trace(one: FloatArray, other: FloatArray) -> float:
    """Give the trace of a product."""
    return float(np.vdot(one, other.T))


def learn_sizes(
    told: SizeScores,
    current: NoiseSizes,
    *,
    floor: float,
    free: dict[str, bool],
) -> NoiseSizes:
    """Take a Fisher scoring step for the sizes, from what all athletes say.

    Effort and day noise never fall below `floor` (they would be 0 for values that do not vary at
    all). A size that is not free stays as it is.
    """
    score, information = told.score, told.information
    sizes = np.array([getattr(current, name) for name in COMPONENTS])
    now = sizes**2
    effort = now[0]
    # A weak pull of the session's sizes towards 0 settles what few sessions leave open.
    score = score - np.array([0.0, *np.full(3, 0.5 / (9.0 * effort))])
    use = np.array([free[name] for name in COMPONENTS])
    least = floor**2 * np.array([1.0, 1.0, 0.0, 0.0])
    low = np.where(now / LARGEST_STEP < 0.01 * floor**2, least, now / LARGEST_STEP)
    low = np.maximum(low, least)
    high = np.maximum(np.maximum(now * LARGEST_STEP, 0.01 * effort), least)
    step = _bounded_step(score[use], information[np.ix_(use, use)], now[use], low[use], high[use])
    now = now.copy()
    now[use] = np.maximum(step, low[use])
    return replace(current, **dict(zip(COMPONENTS, np.sqrt(now).tolist(), strict=True)))


def _bounded_step(
    score: FloatArray, information: FloatArray, now: FloatArray, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Maximise the quadratic within bounds, one coordinate after another."""
    scale = np.sqrt(np.diagonal(information))
    scale = np.where(scale > 0, scale, 1.0)
    curved = information / np.outer(scale, scale)
    target = score / scale
    x = np.zeros(len(now))
    lower, upper = (low - now) * scale, (high - now) * scale
    for _ in range(50):
        last = x.copy()
        for k in range(len(x)):
            slope = target[k] - curved[k] @ x
            x[k] = np.clip(x[k] + slope / max(curved[k, k], 1e-12), lower[k], upper[k])
        if np.max(np.abs(x - last)) < 1e-9 * max(1.0, np.max(np.abs(x))):
            break
    return now + x / scale


def tail_weights(squared: FloatArray, df: float | FloatArray) -> FloatArray:
    """Weights of a t distribution for squared standardised residuals: (df + 1) / (df + r^2)."""
    return (1.0 + 1.0 / df) / (1.0 + squared / df)


@dataclass(frozen=True)
class Residuals:
    """Squared standardised residuals of some athletes: (n,), and where each athlete's begin."""

    squared: FloatArray
    first: NDArray[np.intp]

    @classmethod
    def of(cls, athletes: Sequence[FloatArray]) -> Residuals:
        """Join the athletes' residuals; every athlete has some."""
        ends = np.cumsum([len(each) for each in athletes])
        return cls(np.concatenate(athletes), np.concatenate([[0], ends[:-1]]))

    def sums(self, values: FloatArray) -> FloatArray:
        """Sum an array like the residuals, by athlete: (n_athletes,)."""
        return np.asarray(np.add.reduceat(values, self.first), dtype=float)


@dataclass(frozen=True)
class TailSums(Sums):
    """What sets of squared standardised residuals say about `TAILS`, each at its own scale.

    Attributes
    ----------
    count : array of shape (n_sets,)
        How many residuals.
    weighted : array of shape (n_sets, n_tails)
        Sum of the residuals, weighted by the tail at its scale.
    distance : array of shape (n_sets, n_tails) or None
        How far they are from their middle, as the log density counts it; None unless asked for.
    """

    count: FloatArray
    weighted: FloatArray
    distance: FloatArray | None

    @classmethod
    def of(cls, sets: Sequence[Residuals], scale: FloatArray, *, compared: bool) -> TailSums:
        """Work this out for each athlete, along a first axis.

        Parameters
        ----------
        sets : sequence of Residuals
        scale : array of shape (n_sets, n_tails)
        compared : bool
            Whether distances are to be compared.
        """
        shape = (len(sets[0].first), *scale.shape)
        weighted, distance = np.empty(shape), np.empty(shape)
        for number, each in enumerate(sets):
            for place, df in enumerate(TAILS):
                own = each.squared / scale[number, place]
                weighted[:, number, place] = each.sums(each.squared * tail_weights(own, df))
                if compared:
                    far = own if np.isinf(df) else (df + 1.0) * np.log1p(own / df)
                    distance[:, number, place] = each.sums(far)
        count = np.stack([each.sums(np.ones_like(each.squared)) for each in sets], axis=1)
        return cls(count, weighted, distance if compared else None)


def tail_dfs(sets: int, told: Callable[[FloatArray, bool], TailSums]) -> list[float]:
    """Choose among `TAILS` the t distribution that each set of squared residuals fits best.

    Each candidate gets its own best scale: a heavy tail must not be mistaken for a wide core.

    Parameters
    ----------
    sets : int
        How many there are.
    told : callable
        Gives the sum of `TailSums.of` at some scales, with or without distances.
    """
    scale = np.ones((sets, len(TAILS)))
    for _ in range(SCALE_STEPS):
        sums = told(scale, False)
        scale = sums.weighted / sums.count[:, None]
    sums = told(scale, True)
    distance = np.zeros_like(scale) if sums.distance is None else sums.distance
    fits = sums.count[:, None] * (_T_CONSTANTS - 0.5 * np.log(scale)) - 0.5 * distance
    # Of equally good fits, take the heaviest tail.
    return [
        next(
            tail
            for tail, fit in zip(TAILS, own, strict=True)
            if fit >= max(own) - 1e-9 * abs(max(own))
        )
        for own in fits.tolist()
    ]


def _t_constant(df: float) -> float:
    if np.isinf(df):
        return -0.5 * float(np.log(2.0 * np.pi))
    return float(gammaln((df + 1) / 2) - gammaln(df / 2) - 0.5 * np.log(df * np.pi))


_T_CONSTANTS = np.array([_t_constant(df) for df in TAILS])
