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

from modeling.likelihood import NoiseSizes, session_covariance, shrinkage
from modeling.observations import AthleteRows

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
    sums : array of shape (n_sessions, n_curves)
        Weighted sums of the residuals.
    squares : float
        Weighted sum of squared residuals, averaged over the curves.
    efforts : int
        Number of efforts.
    """

    day: FloatArray
    day_weight: FloatArray
    counts: FloatArray
    sums: FloatArray
    squares: float
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
        return cls(
            day=rows.day,
            day_weight=day_weight,
            counts=rows.session_sums(weight),
            sums=rows.session_sums(weighted),
            squares=float((weighted * residual).sum(axis=0).mean()),
            efforts=rows.efforts,
        )


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
    vary at all would have none); a size that is switched off stays 0.
    Athletes are stacked by number of sessions, so that the linear algebra is done in bulk.
    """
    if not day_effects:
        return _effort_size_alone(athletes, current, level_sd, floor)
    stacks = _stack(athletes)
    start = [current.effort, max(current.day, 10 * floor)]
    if drift:
        start.append(max(current.drift, 10 * floor))

    def cost(logs: FloatArray) -> float:
        effort, day, slow = np.exp([logs[0], logs[1], logs[2] if drift else -np.inf])
        # A weak pull of the two session sizes towards 0 settles what few sessions leave open.
        pull = 0.5 * (day**2 + slow**2) / (3.0 * effort) ** 2
        return pull - sum(stack.log_likelihood(effort, day, slow, level_sd) for stack in stacks)

    found = minimize(
        cost,
        np.log(start),
        method="L-BFGS-B",
        bounds=[(np.log(floor), None)] + [(np.log(floor), None)] * (len(start) - 1),
        options={"maxiter": 30},
    )
    sizes = np.exp(found.x)
    return current.resized(sizes[0], sizes[1], sizes[2] if drift else 0.0)


def _effort_size_alone(
    athletes: list[ResidualSums], current: NoiseSizes, level_sd: float, floor: float
) -> NoiseSizes:
    stacks = _stack(athletes)

    def cost(logs: FloatArray) -> float:
        effort = float(np.exp(logs[0]))
        return -sum(stack.log_likelihood(effort, 0.0, 0.0, level_sd) for stack in stacks)

    found = minimize(
        cost, [np.log(current.effort)], method="L-BFGS-B", bounds=[(np.log(floor), None)]
    )
    return current.resized(float(np.exp(found.x[0])), 0.0, 0.0)


@dataclass(frozen=True)
class _Stack:
    """Athletes with the same number of sessions, along a leading axis."""

    day: FloatArray
    day_weight: FloatArray
    counts: FloatArray
    sums: FloatArray
    squares: FloatArray
    efforts: FloatArray

    def log_likelihood(self, effort: float, day: float, drift: float, level_sd: float) -> float:
        covariance = session_covariance(self.day, drift, level_sd)
        index = np.arange(covariance.shape[1])
        covariance[:, index, index] += day**2 / self.day_weight
        shrink, log_det = shrinkage(covariance, self.counts / effort**2)
        explained = np.einsum("ask,ast,atk->a", self.sums, shrink, self.sums, optimize=True)
        explained /= self.sums.shape[2] * effort**4
        return float(
            -0.5
            * (
                self.squares / effort**2 - explained + log_det + 2.0 * self.efforts * np.log(effort)
            ).sum()
        )


def _stack(athletes: list[ResidualSums]) -> list[_Stack]:
    by_sessions: dict[int, list[ResidualSums]] = {}
    for athlete in athletes:
        by_sessions.setdefault(len(athlete.day), []).append(athlete)
    return [
        _Stack(
            day=np.stack([a.day for a in alike]),
            day_weight=np.stack([a.day_weight for a in alike]),
            counts=np.stack([a.counts for a in alike]),
            sums=np.stack([a.sums for a in alike]),
            squares=np.array([a.squares for a in alike]),
            efforts=np.array([a.efforts for a in alike], dtype=float),
        )
        for _, alike in sorted(by_sessions.items())
    ]


def tail_weights(squared: FloatArray, df: float) -> FloatArray:
    """Weights of a t distribution for squared standardised residuals: (df + 1) / (df + r^2)."""
    if np.isinf(df):
        return np.ones_like(squared)
    return (df + 1.0) / (df + squared)


def tail_df(squared: FloatArray) -> float:
    """Choose among `TAILS` the t distribution that squared standardised residuals fit best.

    Each candidate gets its own best scale, so that a heavy tail is not mistaken for a wide
    core.
    """
    best, chosen = -np.inf, TAILS[-1]
    for df in TAILS:
        scale = 1.0
        for _ in range(12):
            scale = float(np.mean(squared * tail_weights(squared / scale, df)))
        log_likelihood = float(_t_log_density(squared / scale, df).sum())
        log_likelihood -= 0.5 * len(squared) * np.log(scale)
        if log_likelihood > best + 1e-9:
            best, chosen = log_likelihood, df
    return chosen


def _t_log_density(squared: FloatArray, df: float) -> FloatArray:
    if np.isinf(df):
        return -0.5 * (np.log(2.0 * np.pi) + squared)
    constant = gammaln((df + 1) / 2) - gammaln(df / 2) - 0.5 * np.log(df * np.pi)
    return constant - 0.5 * (df + 1) * np.log1p(squared / df)
