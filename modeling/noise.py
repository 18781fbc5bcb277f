"""How large the noise is, and how far each effort and each day is to be believed.

The sizes maximise the likelihood of the residuals averaged over a sample of each athlete's
plausible curves (the M-step of EM, with level, drift and day effects integrated out). Tails
are those of a t distribution, written as a normal whose variance differs from effort to effort
(and from day to day): an effort far from every plausible curve gets a small weight.

References
----------
Lange, Little & Taylor (1989), Robust statistical modeling using the t distribution, JASA 84.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import gammaln

from modeling.likelihood import NoiseSizes
from modeling.observations import AthleteRows
from modeling.session_precision import MANY_SESSIONS, drift_covariance, session_precision

__all__ = ["ResidualSums", "learn_sizes", "tail_df", "tail_weights"]

FloatArray = NDArray[np.float64]

TAILS = (3.0, 4.0, 6.0, 10.0, 20.0, np.inf)
"""Degrees of freedom tried; infinity is the normal distribution."""


@dataclass(frozen=True)
class ResidualSums:
    """All that the sizes need to know of one athlete's residuals from sampled curves.

    Attributes
    ----------
    day : array of shape (n_sessions,)
        Time in days.
    day_weight : array of shape (n_sessions,)
        Weight of each day effect.
    counts : array of shape (n_sessions,)
        Sum of the efforts' weights.
    means : array of shape (n_sessions, n_curves)
        The sessions' mean residuals, over the root of the number of curves.
    within : float
        Weighted sum of squares about the sessions' means, averaged over the curves.
    efforts : int
        Number of efforts.
    """

    day: FloatArray
    day_weight: FloatArray
    counts: FloatArray
    means: FloatArray
    within: float
    efforts: int

    @classmethod
    def of(
        cls,
        rows: AthleteRows,
        residual: FloatArray,
        effort_weight: FloatArray,
        day_weight: FloatArray,
    ) -> ResidualSums:
        """Condense residuals of shape (n_efforts, n_curves)."""
        weight = rows.weight * effort_weight
        weighted = weight[:, None] * residual
        counts = rows.session_sums(weight)
        means = rows.session_sums(weighted) / counts[:, None]
        apart = residual - means[rows.session_index]
        within = float(np.einsum("i,ic,ic->", weight, apart, apart)) / means.shape[1]
        means = means / np.sqrt(means.shape[1])
        return cls(rows.day, day_weight, counts, means, within, rows.efforts)


def learn_sizes(
    athletes: list[ResidualSums],
    current: NoiseSizes,
    level_sd: float,
    *,
    floor: float,
    day_effects: bool,
    drift: bool,
) -> NoiseSizes:
    """Find the effort, day and drift sizes that make the residuals most likely.

    Sizes are searched on the log scale from `current`, none below `floor` (values that do not
    vary at all would have none) nor far above anything seen; a size that is switched off
    stays 0.
    """
    stacks = _stack(athletes)
    free = np.array([True, day_effects, day_effects and drift])
    start = np.maximum(
        [current.effort, current.day, current.drift], [floor, 10 * floor, 10 * floor]
    )
    most = 30.0 * max(start.max(), level_sd)
    # The log of a size is known to about 1 / sqrt(2 df): with that as its unit the likelihood is
    # nearly round, and a few steps get to its top.
    sessions = sum(len(athlete.day) for athlete in athletes)
    spare = sum(athlete.efforts for athlete in athletes) - sessions
    unit = 1.0 / np.sqrt(2.0 * np.maximum([spare, sessions, sessions / 4.0], 1.0))[free]

    def cost(logs: FloatArray) -> tuple[float, FloatArray]:
        sizes = np.zeros(3)
        sizes[free] = np.exp(logs * unit)
        effort, day, slow = sizes
        log_likelihood, slopes = np.zeros(()), np.zeros(3)
        for stack in stacks:
            value, slope = stack.log_likelihood(effort, day, slow, level_sd)
            log_likelihood, slopes = log_likelihood + value, slopes + slope
        # A weak pull of the two session sizes towards 0 settles what few sessions leave open.
        pull = 0.5 * (day**2 + slow**2) / (3.0 * effort) ** 2
        slopes -= 2.0 * pull * np.array([-1.0, 0.0, 0.0])
        slopes -= np.array([0.0, day**2, slow**2]) / (3.0 * effort) ** 2
        return float(pull - log_likelihood), -slopes[free] * unit

    found = minimize(
        cost,
        np.log(start[free]) / unit,
        jac=True,
        method="L-BFGS-B",
        bounds=[(np.log(floor) / each, np.log(most) / each) for each in unit],
        options={"maxiter": 30, "ftol": 1e-6},
    )
    sizes = np.zeros(3)
    sizes[free] = np.exp(found.x * unit)
    return current.resized(*sizes.tolist())


@dataclass(frozen=True)
class _Stack:
    """Athletes side by side, padded to the same number of sessions.

    A padded session has no residual, no covariance with others and a variance of 1, so that it
    adds nothing to the likelihood.
    """

    apart: FloatArray
    real: FloatArray
    own_day: FloatArray
    own_effort: FloatArray
    products: FloatArray
    within: float
    spare_efforts: float

    @classmethod
    def of(cls, athletes: list[ResidualSums], sessions: int) -> _Stack:
        """Stack some athletes with at most that many sessions."""
        shape = (len(athletes), sessions)
        day, real, own_day, own_effort = (np.zeros(shape) for _ in range(4))
        products = np.zeros((*shape, sessions))
        for a, athlete in enumerate(athletes):
            count = len(athlete.day)
            day[a, :count] = athlete.day
            real[a, :count] = 1.0
            own_day[a, :count] = 1.0 / athlete.day_weight
            own_effort[a, :count] = 1.0 / athlete.counts
            products[a, :count, :count] = athlete.means @ athlete.means.T
        return cls(
            apart=drift_covariance(day, 1.0),
            real=real,
            own_day=own_day,
            own_effort=own_effort,
            products=products,
            within=sum(athlete.within for athlete in athletes),
            spare_efforts=float(sum(a.efforts - len(a.day) for a in athletes)),
        )

    def log_likelihood(
        self, effort: float, day: float, drift: float, level_sd: float
    ) -> tuple[float, FloatArray]:
        """Give the log likelihood and its slopes in the logs of effort, day and drift.

        The efforts' squares about their session's mean are chi-square; the means are jointly
        normal, with effort^2 / counts added to their own variance.
        """
        both = self.real[:, :, None] * self.real[:, None, :]
        slow = drift**2 * self.apart * both
        own = day**2 * self.own_day + effort**2 * self.own_effort + (1.0 - self.real)
        covariance = level_sd**2 * both + slow
        index = np.arange(covariance.shape[1])
        covariance[:, index, index] += own
        lower = np.linalg.cholesky(covariance)
        log_det = 2.0 * np.log(lower[:, index, index]).sum()
        inverse = np.linalg.inv(covariance)
        explained = inverse @ self.products
        # d/dC of -(log det C + tr(C^-1 M)) / 2
        pull = 0.5 * (explained @ inverse - inverse)
        own_pull = pull[:, index, index]
        value = -0.5 * (
            self.within / effort**2
            + 2.0 * self.spare_efforts * np.log(effort)
            + log_det
            + explained[:, index, index].sum()
        )
        slopes = np.array(
            [
                self.within / effort**2
                - self.spare_efforts
                + 2.0 * effort**2 * (own_pull * self.own_effort).sum(),
                2.0 * day**2 * (own_pull * self.own_day).sum(),
                2.0 * (pull * slow).sum(),
            ]
        )
        return float(value), slopes


@dataclass(frozen=True)
class _Long:
    """One athlete with very many sessions."""

    athlete: ResidualSums

    def log_likelihood(
        self, effort: float, day: float, drift: float, level_sd: float
    ) -> tuple[float, FloatArray]:
        """Give what `_Stack.log_likelihood` does, the covariance never laid out."""
        sums = self.athlete
        sessions, spare = len(sums.day), sums.efforts - len(sums.day)
        own_day, own_effort = 1.0 / sums.day_weight, 1.0 / sums.counts
        own = day**2 * own_day + effort**2 * own_effort
        between = session_precision(sums.day, drift, own)
        one = between.times(np.ones(sessions))
        more = level_sd**2 * float(one.sum())
        variance = level_sd**2 / (1.0 + more)
        explained = between.times(sums.means - variance * (one @ sums.means))
        fit = float((sums.means * explained).sum())
        # d/dC of -(log det C + tr(C^-1 M)) / 2, on the diagonal and along the level.
        own_pull = 0.5 * ((explained**2).sum(axis=1) - between.diagonal + variance * one**2)
        level_pull = 0.5 * (
            float((explained.sum(axis=0) ** 2).sum()) - float(one.sum()) / (1.0 + more)
        )
        whole = 0.5 * (fit - sessions)
        value = -0.5 * (
            sums.within / effort**2
            + 2.0 * spare * np.log(effort)
            + between.log_det
            + np.log1p(more)
            + fit
        )
        of_drift = whole - float(own_pull @ own) - level_sd**2 * level_pull
        slopes = np.array(
            [
                sums.within / effort**2 - spare + 2.0 * effort**2 * float(own_pull @ own_effort),
                2.0 * day**2 * float(own_pull @ own_day),
                2.0 * of_drift,
            ]
        )
        return value, slopes


def _stack(athletes: list[ResidualSums]) -> list[_Stack | _Long]:
    """Stack athletes whose numbers of sessions round up to the same step of a ladder."""
    steps: dict[int, list[ResidualSums]] = {}
    for athlete in athletes:
        if len(athlete.day) < MANY_SESSIONS:
            step = int(np.ceil(1.3 ** np.ceil(np.log(len(athlete.day)) / np.log(1.3) - 1e-9)))
            steps.setdefault(step, []).append(athlete)
    many = [_Long(athlete) for athlete in athletes if len(athlete.day) >= MANY_SESSIONS]
    return [*(_Stack.of(alike, sessions) for sessions, alike in sorted(steps.items())), *many]


def tail_weights(squared: FloatArray, df: float | FloatArray) -> FloatArray:
    """Weights of a t distribution for squared standardised residuals: (df + 1) / (df + r^2)."""
    return (1.0 + 1.0 / df) / (1.0 + squared / df)


def tail_df(squared: FloatArray) -> float:
    """Choose among `TAILS` the t distribution that squared standardised residuals fit best.

    Each candidate gets its own best scale, so that a heavy tail is not mistaken for a wide
    core.
    """
    df = np.array(TAILS)[:, None]
    scale = np.ones_like(df)
    for _ in range(12):
        scale = (squared * tail_weights(squared / scale, df)).mean(axis=1, keepdims=True)
    fits = [
        _t_log_likelihood(squared / own, tail) - 0.5 * len(squared) * np.log(own)
        for tail, own in zip(TAILS, scale[:, 0].tolist(), strict=True)
    ]
    # Of fits as good as each other, the heaviest tail.
    return next(tail for tail, fit in zip(TAILS, fits, strict=True) if fit > max(fits) - 1e-9)


def _t_log_likelihood(squared: FloatArray, df: float) -> float:
    if np.isinf(df):
        return -0.5 * float((np.log(2.0 * np.pi) + squared).sum())
    constant = gammaln((df + 1) / 2) - gammaln(df / 2) - 0.5 * np.log(df * np.pi)
    return float(len(squared) * constant - 0.5 * (df + 1) * np.log1p(squared / df).sum())
