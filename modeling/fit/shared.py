"""What is the same for everybody: effects of context and circumstances, constants of the account.

An effect on the level (a game, a cold hall, a poor night) enters the values linearly. A constant
of the account moves the volume axis, which to first order is linear too: the change of a curve's
value is its slope times the change of the volume in effect. Given a cell of the grid, all of them
together are therefore a generalised regression, and one Newton step a round learns them. Its
information matrix is the complete one less the covariance of the score across the cells (Louis),
with the squad's mean curve free to move along (a constant that shifts every peak is hard to tell
from peaks that lie elsewhere). No curve of the family is quite an athlete's own, so the athletes'
scores may scatter more than that information says; what the data tell is then cut to what
survives (Godambe; White's sandwich) before it is joined with what is thought beforehand.

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

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from modeling.curve.account import CONSTANTS, Account
from modeling.efforts.observations import AthleteRows
from modeling.fit.information import LEAST_SHARE, LEAST_STEP_SHARE, floored, surviving
from modeling.fit.pooling import NormalAcross

__all__ = ["SharedEffects", "SharedMoments", "learn_shared"]

FloatArray = NDArray[np.float64]

MARK_SD = 0.03
"""Spread expected of effects on the level (log scale): games and tests differ by some per cent."""

NO_EFFECT_ODDS = 3.0
"""A constant whose data speak this much more for no effect than for the range thought of
beforehand has none: what cannot be seen must not move the advice."""

NOTHING = 1e-9
"""So little of the complete information that it counts for nothing."""

HARDLY = 1e-9
"""Share of a circumstance that is rounding, not variation."""


@dataclass(frozen=True)
class SharedEffects:
    """Effects that all athletes share.

    Attributes
    ----------
    marks : tuple of str
        Names of the effects on the level.
    constants : tuple of bool
        Which of `account.CONSTANTS` make a difference here.
    varied : tuple of float
        Share of what each of these does that is not the same in all sessions of an athlete, nor
        what others of them do.
    told : tuple of bool
        Of which of these the data tell more than was thought beforehand; the others keep their
        default.
    value : array of shape (n_marks + n_constants,)
        Effects on the log scale, then the constants' inner values.
    found : array of shape (n,)
        The same before constants without a visible effect were set to none.
    covariance : array of shape (n, n)
        How uncertain `found` is.
    """

    marks: tuple[str, ...]
    constants: tuple[bool, ...]
    varied: tuple[float, ...]
    told: tuple[bool, ...]
    value: FloatArray
    found: FloatArray
    covariance: FloatArray

    @classmethod
    def begin(cls, rows: list[AthleteRows]) -> SharedEffects:
        """Start from no effects and the constants' defaults."""
        marks = tuple(sorted({name for r in rows for name in r.marks}))
        around = [r.work.around() for r in rows] or [np.zeros((0, len(CONSTANTS)))]
        constants = tuple((np.concatenate(around) != 0).any(axis=0).tolist())
        varied = _varied([each[:, constants] for each in around])
        told = tuple(share > HARDLY for share in varied)
        start = cls(marks, constants, varied, told, np.zeros(0), np.zeros(0), np.zeros((0, 0)))
        mean, sd, _ = start.prior()
        return replace(start, value=mean, found=mean, covariance=np.diag(sd**2))

    def prior(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give means, spreads and least values thought of beforehand, each of shape (n,)."""
        chosen = [c for c, used in zip(CONSTANTS, self.constants, strict=True) if used]
        mean = [0.0] * len(self.marks) + [c.inner(c.default) for c in chosen]
        sd = [MARK_SD] * len(self.marks) + [c.sd for c in chosen]
        least = [-np.inf] * len(self.marks) + [c.least_inner for c in chosen]
        return np.array(mean), np.array(sd), np.array(least)

    def moved_sds(self, before: SharedEffects) -> float:
        """Largest move since `before`, in units of each effect's uncertainty."""
        if len(self.value) == 0:
            return 0.0
        return float(np.max(np.abs(self.value - before.value) / np.sqrt(np.diag(self.covariance))))

    @property
    def open(self) -> NDArray[np.bool_]:
        """Which of `value` are learned: all marks, and the constants told."""
        return np.array([True] * len(self.marks) + [*self.told], dtype=bool)

    def telling(self, enough: NDArray[np.bool_]) -> SharedEffects:
        """Have the data tell those constants of which they say enough, of those still told."""
        return replace(self, told=tuple((enough & np.array(self.told, dtype=bool)).tolist()))

    @property
    def account(self) -> Account:
        """The account with what was learned of its constants."""
        inner = iter(self.value[len(self.marks) :])
        chosen = [c for c, used in zip(CONSTANTS, self.constants, strict=True) if used]
        return Account(**{c.name: c.outer(float(next(inner))) for c in chosen})

    def design(self, rows: AthleteRows) -> FloatArray:
        """Give the marks of each session: array of shape (n_sessions, n_marks)."""
        none = np.zeros(len(rows.sessions))
        columns = [rows.marks.get(name, none) for name in self.marks]
        return np.stack(columns, axis=1) if columns else np.zeros((len(none), 0))

    def of_sessions(self, rows: AthleteRows) -> FloatArray:
        """Effect on the level of each session, shape (n_sessions,)."""
        if not self.marks:
            return np.zeros(len(rows.sessions))
        return self.design(rows) @ self.value[: len(self.marks)]


@dataclass(frozen=True)
class SharedMoments:
    """One athlete's part of the regression; s counts the effects, d the coordinates.

    Attributes
    ----------
    score : array of shape (s,)
        Expected slope of the log likelihood.
    complete : array of shape (s, s)
        Expected information were the cell known.
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


def learn_shared(
    effects: SharedEffects,
    moments: Iterable[SharedMoments],
    across: NormalAcross,
    mean_precision: FloatArray,
    pooled: bool,
    settled: bool,
    judged: bool = False,
) -> tuple[SharedEffects, NormalAcross]:
    """Take one Newton step; the squad's mean curve moves along if it is believed.

    Parameters
    ----------
    effects : SharedEffects
    moments : iterable of SharedMoments
        One an athlete.
    across : NormalAcross
        The squad's distribution of coordinates.
    mean_precision : array of shape (d, d)
        What is thought of its mean beforehand.
    pooled : bool
        Whether that distribution is believed.
    settled : bool
        Whether the rest of the fit is good enough to judge that a constant has no effect.
    judged : bool
        Whether to judge now which constants the data tell. Once: a constant that goes back and
        forth keeps the fit from settling.
    """
    told = list(moments)
    mean, sd, least = effects.prior()
    before = np.diag(sd**-2.0)
    score = sum(m.score for m in told) - before @ (effects.value - mean)
    complete = sum(m.complete for m in told) + before
    observed: FloatArray = np.sum([m.complete - m.score_covariance for m in told], axis=0)
    follow: FloatArray = np.zeros((len(across.mean), len(mean)))
    precision = np.linalg.inv(across.covariance)
    if pooled:
        own = [precision - precision @ m.coordinates @ precision for m in told]
        all_known = len(told) * precision + mean_precision
        of_mean = floored(sum(own) + mean_precision, all_known, LEAST_SHARE)
        between = -sum(m.with_coordinates for m in told) @ precision
        follow = -np.asarray(np.linalg.solve(of_mean, between.T), dtype=float)
        observed = observed + between @ follow
    information = floored(observed, complete, LEAST_SHARE)
    own_scores = np.stack(
        [m.score + follow.T @ precision @ (m.coordinate_mean - across.mean) for m in told]
    )
    survives = surviving(information, own_scores)
    covariance = np.asarray(np.linalg.inv(survives + before), dtype=float)
    if judged:
        # What all sessions of an athlete share is told from nobody's own curve. To see that in the
        # information takes more draws than there are; in the circumstances it is seen exactly.
        most = np.diag(complete - before)[len(effects.marks) :] * effects.varied
        alone = np.diag(np.linalg.inv(survives + NOTHING * complete)) ** -1.0
        enough = np.minimum(alone[len(effects.marks) :], most) > sd[len(effects.marks) :] ** -2.0
        effects = effects.telling(enough)
    start = np.where(effects.open, effects.value, mean)
    found = start + _solved(information + before, score, effects.open)
    step = _solved(floored(observed + before, complete, LEAST_STEP_SHARE), score, effects.open)
    # No further than half of what is plausible at once: the curves are not quite linear.
    step = step * _short_enough(step / sd, follow @ step / across.sd)
    value = np.maximum(start + step, least)
    if settled:
        value[_without_effect(effects, found, covariance)] = 0.0
    moved = replace(effects, value=value, found=found, covariance=covariance)
    along = follow @ (value - effects.value)
    # A constant set to none jumps; the squad's mean must not jump with it.
    along = along * _short_enough(along / across.sd)
    return moved, replace(across, mean=across.mean + along)


def _short_enough(*spreads: FloatArray) -> float:
    """Say what share of a step is no longer than half a spread in any direction."""
    farthest = float(np.max(np.abs(np.concatenate(spreads))))
    return min(1.0, 0.5 / farthest) if farthest > 0.0 else 1.0


def _solved(matrix: FloatArray, score: FloatArray, free: NDArray[np.bool_]) -> FloatArray:
    """Solve for some unknowns; the others stay 0."""
    step = np.zeros(len(score))
    step[free] = np.linalg.solve(matrix[np.ix_(free, free)], score[free])
    return step


def _varied(around: list[FloatArray]) -> tuple[float, ...]:
    """Give the share of each circumstance that varies within athletes and by itself."""
    within = np.concatenate([each - each.mean(axis=0) if len(each) else each for each in around])
    total = np.sum(np.square(np.concatenate(around)), axis=0)
    shares = []
    for i in range(within.shape[1]):
        others = np.delete(within, i, axis=1)
        left = within[:, i] - others @ np.linalg.lstsq(others, within[:, i], rcond=None)[0]
        shares.append(float(left @ left / total[i]))
    return tuple(shares)


def _without_effect(
    effects: SharedEffects, found: FloatArray, covariance: FloatArray
) -> NDArray[np.bool_]:
    """Weigh no effect against some: the density at 0 afterwards over that beforehand.

    Dickey & Lientz (1970); normal densities, the one beforehand cut off at the least value.
    """
    mean, sd, least = effects.prior()
    after = norm.logpdf(0.0, found, np.sqrt(np.diag(covariance)))
    before = norm.logpdf(0.0, mean, sd) - norm.logsf(least, mean, sd)
    constant = np.arange(len(found)) >= len(effects.marks)
    return constant & effects.open & (after - before > np.log(NO_EFFECT_ODDS))
