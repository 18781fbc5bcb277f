"""Analysis of variance of athletes by trials: between athletes, between trials, and the rest.

Athletes may have different numbers of trials. The sums of squares of athletes and of trials are
each adjusted for the other, so nobody's sessions are dropped, and a late trial that few athletes
reached moves nothing else. If all have the same trials, these are the usual two-way sums.

References
----------
Shrout & Fleiss (1979), Intraclass correlations, Psychol Bull 86:420-428.
Wald (1940), A note on the analysis of variance with unequal class frequencies, Ann Math Stat 11
(exact interval of a ratio of variances, from memory).
Williams (1962), A confidence interval for variance components, Biometrika 49 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.stats import chi2, f

__all__ = ["CONFIDENCE", "Bounded", "Components", "Design", "components", "percent_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

CONFIDENCE = 0.90
TOO_FEW = "At least two athletes with two sessions each are needed to compare."
SMALLEST_SHARE = 1e-9
"""Directions with a smaller share of the design than this count as empty."""


@dataclass(frozen=True)
class Bounded:
    """An estimate between the ends of its confidence interval."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Bounded:
        """Return the estimate and its ends times a positive factor."""
        return Bounded(self.value * factor, self.low * factor, self.high * factor)


@dataclass(frozen=True)
class Components:
    """The analysis of variance of athletes by trials.

    Attributes
    ----------
    athletes : int
        Number of athletes.
    mean_square_athletes, mean_square_trials, mean_square_error : float
        Mean squares of athletes adjusted for trials, of trials adjusted for athletes, and of the
        rest.
    df_athletes, df_trials, df_error : int
        Their degrees of freedom.
    squares, weights : arrays of shape (df_athletes,)
        Squares of independent contrasts between athletes. The expected value of each is
        error + weight x variance of athletes.
    athletes_per_trial : float
        Coefficient of the variance of trials in the mean square of trials.
    trial_effect : array of shape (n_trials,)
        Least-squares effect of each trial, 0 for the first.
    trial_information : array of shape (n_trials, n_trials)
        Information on the trials, adjusted for athletes: the inverse of the covariance of their
        effects, in units of the error.
    trial_spread : array of shape (n_trials,)
        Standard error of each trial's effect, in units of the error's standard deviation.
    """

    athletes: int
    mean_square_athletes: float
    mean_square_trials: float
    mean_square_error: float
    df_athletes: int
    df_trials: int
    df_error: int
    squares: FloatArray
    weights: FloatArray
    athletes_per_trial: float
    trial_effect: FloatArray
    trial_information: FloatArray
    trial_spread: FloatArray

    @property
    def f_athletes(self) -> float:
        """Ratio of the mean squares of athletes and error."""
        return self.mean_square_athletes / self.mean_square_error

    def error_sd(self, confidence: float = CONFIDENCE) -> Bounded:
        """Return the standard deviation of the error, by chi-square: the typical error."""
        ends = chi2.ppf(_tails(confidence)[::-1], self.df_error)
        low, high = (sqrt(self.df_error * self.mean_square_error / end) for end in ends)
        return Bounded(sqrt(self.mean_square_error), low, high)

    def between_sd(self, confidence: float = CONFIDENCE) -> Bounded:
        """Return the standard deviation between athletes, free of error (Williams 1962)."""
        return Bounded(
            sqrt(self._ratio(1.0) * self.mean_square_error),
            *(sqrt(end) for end in self._between_ends(confidence)),
        )

    def _between_ends(self, confidence: float) -> tuple[float, float]:
        df, (lower, upper) = self.df_athletes, _tails(confidence)
        ends = (
            self._ratio(quantile := float(f.ppf(share, df, self.df_error)))
            * (quantile * self.mean_square_error * df / float(chi2.ppf(share, df)))
            for share in (upper, lower)
        )
        low, high = ends
        return low, high

    def icc_3_1(self, confidence: float = CONFIDENCE) -> Bounded:
        """Return ICC(3,1): single sessions, trials fixed (consistency); exact interval."""
        lower, upper = f.ppf(_tails(confidence), self.df_athletes, self.df_error)
        low, value, high = (self._ratio(float(at)) for at in (upper, 1.0, lower))
        return Bounded(value / (1 + value), low / (1 + low), high / (1 + high))

    def icc_2_1(self, confidence: float = CONFIDENCE) -> Bounded:
        """Return ICC(2,1): single sessions, trials drawn at random (absolute agreement).

        The interval is that of Shrout & Fleiss, with the mean numbers of trials and athletes
        behind the adjusted mean squares. For balanced data it is exactly theirs.
        """
        error, between = self.mean_square_error, self._ratio(1.0) * self.mean_square_error
        trials = self._between_trials()
        icc = float(np.clip(between / (between + trials + error), 0.0, 1.0)) if between else 0.0
        k, n = self._trials_per_athlete(), self.athletes_per_trial
        ratio = self.mean_square_trials / error
        own, rest = k * icc * ratio, n * (1 + (k - 1) * icc) - k * icc
        spread = (own**2 / self.df_trials if self.df_trials else 0.0) + rest**2 / self.df_error
        df = (own + rest) ** 2 / spread
        of_trials = k * self.mean_square_trials + (k * n - k - n) * error
        upper = _tails(confidence)[1]
        least = float(f.ppf(upper, self.df_athletes, df))
        most = float(f.ppf(upper, df, self.df_athletes))
        of_athletes = n * self.mean_square_athletes
        low = (of_athletes - n * least * error) / (least * of_trials + of_athletes)
        high = (most * of_athletes - n * error) / (of_trials + most * of_athletes)
        return Bounded(icc, min(max(low, 0.0), icc), min(max(high, icc), 1.0))

    def _between_trials(self) -> float:
        """Return the variance between trials, below 0 if they differ less than error explains."""
        if not self.df_trials:
            return 0.0
        return (self.mean_square_trials - self.mean_square_error) / self.athletes_per_trial

    def _trials_per_athlete(self) -> float:
        """Return the coefficient of the variance of athletes in their mean square."""
        ratio = self._ratio(1.0)
        return (self.f_athletes - 1.0) / ratio if ratio else float(self.weights.mean())

    def _ratio(self, quantile: float) -> float:
        """Return the ratio of athletes' variance to error at which F takes a given value.

        F is the mean of the squared contrasts, each divided by its expected value. It falls as
        the ratio rises; if it is small enough at a ratio of 0, the result is 0.
        """

        def above(ratio: float) -> float:
            expected = self.mean_square_error * (1.0 + ratio * self.weights)
            return float(np.mean(self.squares / expected)) - quantile

        if above(0.0) <= 0.0:
            return 0.0
        most = self.f_athletes / quantile / float(self.weights.min())
        return float(brentq(above, 0.0, most, xtol=1e-15 * most, rtol=1e-12))


@dataclass(frozen=True)
class Design:
    """Who was measured in which trial: the part of an analysis that needs no values.

    Attributes
    ----------
    who, when : arrays of shape (n,)
        Number of the athlete and of the trial of each value.
    counts : array of shape (n_athletes, n_trials)
        Number of values of each athlete in each trial.
    weights, axes : arrays of shape (df,) and (n_athletes, df)
        Independent contrasts between athletes, adjusted for trials, as columns.
    trial_information : array of shape (n_trials, n_trials)
        Information on the trials, adjusted for athletes.
    trial_weights, trial_axes : arrays of shape (df,) and (n_trials, df)
        Independent contrasts between trials, adjusted for athletes, as columns.
    """

    who: IntArray
    when: IntArray
    counts: FloatArray
    weights: FloatArray
    axes: FloatArray
    trial_information: FloatArray
    trial_weights: FloatArray
    trial_axes: FloatArray

    @classmethod
    def of(cls, athlete: ArrayLike, trial: ArrayLike | None) -> Design:
        """Arrange labels of athletes and of trials, as `components` takes them.

        Raises
        ------
        ValueError
            There are not two athletes, or no values are left to estimate the error.
        """
        who = np.unique(np.asarray(athlete), return_inverse=True)[1]
        labels = np.zeros_like(who) if trial is None else np.asarray(trial)
        when = np.unique(labels, return_inverse=True)[1]
        if not len(who):
            raise ValueError(TOO_FEW)
        counts = np.zeros((who.max() + 1, when.max() + 1))
        np.add.at(counts, (who, when), 1.0)
        per_athlete, per_trial = counts.sum(axis=1), counts.sum(axis=0)
        weights, axes = _directions(np.diag(per_athlete) - (counts / per_trial) @ counts.T)
        if not len(weights) or len(who) - len(per_trial) - len(weights) < 1:
            raise ValueError(TOO_FEW)
        information = np.diag(per_trial) - (counts.T / per_athlete) @ counts
        return cls(who, when, counts, weights, axes, information, *_directions(information))

    def analyse(self, value: ArrayLike) -> Components:
        """Analyse values of shape (n,), with none missing."""
        y = np.asarray(value, dtype=float)
        y = y - y.mean()
        per_athlete, per_trial = self.counts.sum(axis=1), self.counts.sum(axis=0)
        of_athlete, of_trial = np.bincount(self.who, y), np.bincount(self.when, y)
        along = self.axes.T @ (of_athlete - self.counts @ (of_trial / per_trial))
        own = self.axes @ (along / self.weights)
        effect = (of_trial - self.counts.T @ own) / per_trial
        rest = y - own[self.who] - effect[self.when]
        squares, df_trials = along**2 / self.weights, len(self.trial_weights)
        df_error = len(y) - len(per_trial) - len(self.weights)
        of_trials = float(effect @ (of_trial - self.counts.T @ (of_athlete / per_athlete)))
        against_first = self.trial_axes - self.trial_axes[0]
        return Components(
            athletes=len(per_athlete),
            mean_square_athletes=float(squares.mean()),
            mean_square_trials=of_trials / df_trials if df_trials else 0.0,
            mean_square_error=float(rest @ rest) / df_error,
            df_athletes=len(self.weights),
            df_trials=df_trials,
            df_error=df_error,
            squares=squares,
            weights=self.weights,
            athletes_per_trial=float(self.trial_weights.mean()) if df_trials else inf,
            trial_effect=effect - effect[0],
            trial_information=self.trial_information,
            trial_spread=np.sqrt((against_first**2 / self.trial_weights).sum(axis=1)),
        )


def components(athlete: ArrayLike, trial: ArrayLike | None, value: ArrayLike) -> Components:
    """Analyse values of athletes in trials.

    Parameters
    ----------
    athlete : array-like of shape (n,)
        Athlete of each value; any labels.
    trial : array-like of shape (n,) or None
        Trial of each value, in sorting order; None leaves trials out of the analysis.
    value : array-like of shape (n,)
        Values, with none missing.

    Raises
    ------
    ValueError
        There are not two athletes, or no values are left to estimate the error.
    """
    return Design.of(athlete, trial).analyse(value)


def percent_of(log: Bounded) -> Bounded:
    """Turn a size or change in natural logarithms into %."""
    value, low, high = (100.0 * float(np.expm1(each)) for each in (log.value, log.low, log.high))
    return Bounded(value, low, high)


def _directions(matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a symmetric matrix's eigenvalues above zero, and their vectors as columns."""
    values, vectors = np.linalg.eigh(matrix)
    real = values > SMALLEST_SHARE * max(float(np.trace(matrix)), 1.0)
    return values[real], vectors[:, real]


def _tails(confidence: float) -> FloatArray:
    return np.array([0.5 - confidence / 2, 0.5 + confidence / 2])
