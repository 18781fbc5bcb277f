"""One step towards what is the same for everybody.

An effect on the level enters the values linearly. A constant of the account moves the volume axis,
which to first order is linear too: the change of a curve's value is its slope times the change of
the volume in effect. So given a cell of the grid, all of them together are a generalised
regression, and one Newton step a round learns them.

Its information matrix is the complete one minus the covariance of the score across the cells
(Louis). The squad's mean curve may move along, as a constant that shifts every peak is hard to tell
from peaks that lie elsewhere. No curve of the family is quite an athlete's own, so the athletes'
scores may scatter more than that information says. The data's information is then reduced to what
survives (Godambe; White's sandwich) before it is joined with the prior.

References
----------
Dickey & Lientz (1970), The weighted likelihood ratio, sharp hypotheses about chances, the order
of a Markov chain, Annals of Mathematical Statistics 41, 214-226.
Godambe (1960), An optimum property of regular maximum likelihood estimation, Annals of
Mathematical Statistics 31, 1208-1211.
Louis (1982), Finding the observed information matrix when using the EM algorithm, JRSS B 44.
White (1982), Maximum likelihood estimation of misspecified models, Econometrica 50, 1-25.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.stats import norm

from modeling.compute.sums import Sums
from modeling.fit.pooling import NormalAcross
from modeling.fit.shared import SharedEffects

__all__ = ["SharedMoments", "SharedSums", "learn_shared"]

FloatArray = NDArray[np.float64]

NO_EFFECT_ODDS = 3.0
"""A constant has no effect if the data speak this many times more for none than for the prior's
range: what cannot be seen must not move the advice."""

NOTHING = 1e-9
"""A share of the complete information so small that it counts for nothing."""

LEAST_SHARE, LEAST_STEP_SHARE = 0.02, 0.25
"""Smallest share of the complete information that a direction is assumed to have. Steps assume
more: they would overshoot where a constant and the curves can hardly be told apart."""


@dataclass(frozen=True)
class SharedMoments:
    """One athlete's part of the regression; s counts the effects, d the coordinates.

    Attributes
    ----------
    score : array of shape (s,)
        Expected slope of the log likelihood.
    complete : array of shape (s, s)
        Expected information if the cell were known.
    score_covariance : array of shape (s, s)
        Covariance of the slope across cells.
    with_coordinates : array of shape (s, d)
        Covariance of the slope with the coordinates.
    coordinates : array of shape (d, d)
        Covariance of the coordinates.
    coordinate_mean : array of shape (d,)
        Their mean.
    """

    score: FloatArray
    complete: FloatArray
    score_covariance: FloatArray
    with_coordinates: FloatArray
    coordinates: FloatArray
    coordinate_mean: FloatArray


@dataclass(frozen=True)
class SharedSums(Sums):
    """The same for all athletes, added up.

    Attributes
    ----------
    athletes : array of shape ()
        How many.
    complete, score_covariance, with_coordinates, coordinates : arrays
        As in `SharedMoments`.
    both : array of shape (s + d,)
        Scores, then means of coordinates.
    products : array of shape (s + d, s + d)
        Products of each athlete's `both`.
    """

    athletes: FloatArray
    complete: FloatArray
    score_covariance: FloatArray
    with_coordinates: FloatArray
    coordinates: FloatArray
    both: FloatArray
    products: FloatArray

    @classmethod
    def of(cls, told: Sequence[SharedMoments]) -> SharedSums:
        """Lay athletes side by side, with a first axis of athletes."""
        both = np.stack([np.concatenate([m.score, m.coordinate_mean]) for m in told])
        return cls(
            athletes=np.ones(len(told)),
            complete=np.stack([m.complete for m in told]),
            score_covariance=np.stack([m.score_covariance for m in told]),
            with_coordinates=np.stack([m.with_coordinates for m in told]),
            coordinates=np.stack([m.coordinates for m in told]),
            both=both,
            products=both[:, :, None] * both[:, None, :],
        )

    def scatter(self, follow: FloatArray) -> FloatArray:
        """Sum the products of the athletes' scores minus their mean: (s, s).

        Parameters
        ----------
        follow : array of shape (d, s)
            What a coordinate adds to the score.
        """
        apart = self.products - np.outer(self.both, self.both) / self.athletes
        own = np.vstack([np.eye(follow.shape[1]), follow])
        return np.asarray(own.T @ apart @ own, dtype=float)


def learn_shared(
    effects: SharedEffects,
    told: SharedSums,
    across: NormalAcross,
    mean_precision: FloatArray,
    pooled: bool,
    settled: bool,
    judged: bool = False,
) -> tuple[SharedEffects, NormalAcross]:
    """Take one Newton step; the squad's mean curve moves along if the squad is pooled.

    Parameters
    ----------
    effects : SharedEffects
    told : SharedSums
        All athletes' sums.
    across : NormalAcross
        The squad's distribution of coordinates.
    mean_precision : array of shape (d, d)
        Prior precision of its mean.
    pooled : bool
        Whether that distribution is the athletes' prior.
    settled : bool
        Whether the rest of the fit is good enough to judge that a constant has no effect.
    judged : bool
        Whether to judge now which constants the data tell. This is done once: a constant that
        goes back and forth would keep the fit from settling.
    """
    mean, sd, least = effects.prior()
    before = np.diag(sd**-2.0)
    score = told.both[: len(mean)] - before @ (effects.value - mean)
    complete = told.complete + before
    observed = told.complete - told.score_covariance
    follow: FloatArray = np.zeros((len(across.mean), len(mean)))
    precision = np.linalg.inv(across.covariance)
    if pooled:
        all_known = told.athletes * precision + mean_precision
        own = all_known - precision @ told.coordinates @ precision
        of_mean = _floored(own, all_known, LEAST_SHARE)
        between = -told.with_coordinates @ precision
        follow = -np.asarray(np.linalg.solve(of_mean, between.T), dtype=float)
        observed = observed + between @ follow
    information = _floored(observed, complete, LEAST_SHARE)
    survives = _surviving(information, told.scatter(precision @ follow), float(told.athletes))
    covariance = np.asarray(np.linalg.inv(survives + before), dtype=float)
    if judged:
        # A circumstance that is the same in all sessions of an athlete cannot be told from their
        # curve. The information would need more draws to show this; the circumstances show it
        # exactly.
        most = np.diag(complete - before)[len(effects.marks) :] * effects.varied
        alone = np.diag(np.linalg.inv(survives + NOTHING * complete)) ** -1.0
        enough = np.minimum(alone[len(effects.marks) :], most) > sd[len(effects.marks) :] ** -2.0
        effects = effects.telling(enough)
    start = np.where(effects.open, effects.value, mean)
    found = start + _solved(information + before, score, effects.open)
    step = _solved(_floored(observed + before, complete, LEAST_STEP_SHARE), score, effects.open)
    # Move at most half of what is plausible at once: the curves are not quite linear.
    step = step * _short_enough(step / sd, follow @ step / across.sd)
    value = np.maximum(start + step, least)
    if settled:
        value[_without_effect(effects, found, covariance)] = 0.0
    moved = replace(effects, value=value, found=found, covariance=covariance)
    along = follow @ (value - effects.value)
    # A constant set to no effect jumps; the squad's mean must not jump with it.
    along = along * _short_enough(along / across.sd)
    return moved, replace(across, mean=across.mean + along)


def _short_enough(*spreads: FloatArray) -> float:
    """Give the share of a step that stays within half a spread in every direction."""
    farthest = float(np.max(np.abs(np.concatenate(spreads))))
    return min(1.0, 0.5 / farthest) if farthest > 0.0 else 1.0


def _solved(matrix: FloatArray, score: FloatArray, free: NDArray[np.bool_]) -> FloatArray:
    """Solve for some unknowns; the others stay 0."""
    step = np.zeros(len(score))
    step[free] = np.linalg.solve(matrix[np.ix_(free, free)], score[free])
    return step


def _without_effect(
    effects: SharedEffects, found: FloatArray, covariance: FloatArray
) -> NDArray[np.bool_]:
    """Say which constants have no effect, by the ratio of posterior to prior density at 0.

    Dickey & Lientz (1970). Both densities are normal; the prior is cut off at the least value.
    """
    mean, sd, least = effects.prior()
    after = norm.logpdf(0.0, found, np.sqrt(np.diag(covariance)))
    before = norm.logpdf(0.0, mean, sd) - norm.logsf(least, mean, sd)
    constant = np.arange(len(found)) >= len(effects.marks)
    return constant & effects.open & (after - before > np.log(NO_EFFECT_ODDS))


def _surviving(information: FloatArray, scatter: FloatArray, athletes: float) -> FloatArray:
    """Reduce the data's information where the athletes disagree more than it allows.

    If the curves' shapes were right, the scores would scatter as much as the information says. In
    a direction where they scatter more, the information is divided by that excess: Godambe's
    information, the inverse of White's sandwich. No direction gains.

    Parameters
    ----------
    information : array of shape (s, s)
        The data's own, without the prior.
    scatter : array of shape (s, s)
        Summed products of the athletes' scores minus their mean.
    athletes : float
        How many there are.
    """
    effects = len(scatter)
    if athletes <= effects + 1:
        return information
    corrected = scatter * athletes / (athletes - effects)
    return _by_share(corrected, information, lambda excess: 1.0 / np.maximum(excess, 1.0))


def _floored(observed: FloatArray, complete: FloatArray, least: float) -> FloatArray:
    """Keep every direction between a least share of the complete information and all of it."""
    return _by_share(observed, complete, lambda share: np.clip(share, least, 1.0))


def _by_share(
    part: FloatArray, whole: FloatArray, change: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Scale the whole in each direction by a function of the part's share there."""
    share, vectors = eigh(part, whole)
    back = whole @ vectors
    return np.asarray((back * change(share)) @ back.T, dtype=float)
