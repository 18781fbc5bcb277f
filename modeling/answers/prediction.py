"""Predicted values: on an average day, and in a single effort.

A value is the sum of a level of the day, a curve at the volume in effect, and noise (in logs).
Curves are drawn together with their levels (`levels`); given a draw, an average day's value is
normal. A single effort adds the day's own level, how far the session is off the athlete's curve,
and the effort's noise. Heavy tails enter as normals whose variances are spread over the draws, so
an interval is that of a mixture of normals.

At volumes that the athlete has not tried, the curve rests on the squad's; `Tried` marks these.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root
from scipy.special import gammaincinv, ndtr, ndtri

from modeling.efforts.observations import AthleteRows
from modeling.fit.drawn import CURVES
from modeling.fit.levels import Levels, shared_regressors
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Prediction", "mixture_quantiles", "predict_rows"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

LEAST_VARIANCE = 1e-24
HAIR = 1e-9
"""How exactly a quantile is found, in logs."""


COLUMNS = {
    "mean": "what is expected on an average day, as `predict` gives it without an interval",
    "average_low": "lower end of what the mean of an average day may be",
    "average_high": "upper end of it",
    "effort_low": "lower end of where a single effort on a day to come falls",
    "effort_high": "upper end of it",
}
"""Columns of a prediction with intervals, in the unit of the values, and what they mean."""

TURNED = {
    f"{what}_{end}": f"{what}_{other}"
    for what in ("average", "effort")
    for end, other in (("low", "high"), ("high", "low"))
}
"""Names that swap where lower values are better."""

STEPS = (0.7548776662466927, 0.5698402909980532)
"""Powers of the inverse plastic number: they spread the variances of days and of efforts evenly
over the draws, both at once (the Kronecker sequence of `drawn`)."""


@dataclass(frozen=True)
class Prediction:
    """Log values of some rows of one athlete, higher is better.

    Attributes
    ----------
    mean : array of shape (n_rows, n_curves)
        Mean of an average day's value under each drawn curve.
    variance : array of shape (n_rows,)
        Variance of an average day's value, given the curve.
    noise : array of shape (n_curves,)
        Variance that a single effort adds.
    """

    mean: FloatArray
    variance: FloatArray
    noise: FloatArray

    @property
    def expected(self) -> FloatArray:
        """Log of the mean performance over the curves: array of shape (n_rows,)."""
        highest = self.mean.max(axis=1, keepdims=True)
        return np.log(np.exp(self.mean - highest).mean(axis=1)) + highest[:, 0]

    def bounds(self, shares: FloatArray) -> dict[str, FloatArray]:
        """Give the ends of intervals by the names of `COLUMNS`.

        Parameters
        ----------
        shares : array of shape (2,)
            Probability below each end.

        Returns
        -------
        dict of arrays of shape (n_rows,)
        """
        own, expected = self.variance[:, None], self.expected
        average = mixture_quantiles(self.mean, own, shares)
        effort = mixture_quantiles(self.mean, own + self.noise, shares)
        return {
            # If a few curves fall far below the rest, the mean lies outside the quantiles.
            "average_low": np.minimum(average[:, 0], expected),
            "average_high": np.maximum(average[:, 1], expected),
            "effort_low": np.minimum(effort[:, 0], expected),
            "effort_high": np.maximum(effort[:, 1], expected),
        }


def predict_rows(fit: SquadFit, posterior: Posterior, rows: AthleteRows) -> Prediction:
    """Predict the values of rows; values that the rows already have are ignored.

    Parameters
    ----------
    fit : SquadFit
    posterior : Posterior
        The athlete's; the squad's for one without data.
    rows : AthleteRows
        Volumes in effect, days and marks. Missing days mean the average over the athlete's own.
    """
    learned = fit.learned
    undated = bool(np.isnan(rows.day).all())
    level, variance, carried = Levels.of(fit, posterior).on(None if undated else rows.day)
    session = np.zeros(rows.efforts, dtype=int) if undated else rows.session_index
    fixed = learned.level_mean + learned.shared.of_sessions(rows)[rows.session_index]
    volumes, place = rows.tried
    curve = (fit.curves(posterior, volumes) + posterior.draws.top)[place]
    return Prediction(
        mean=fixed[:, None] + level[session] + curve,
        variance=variance[session] + _of_shared_effects(fit, posterior, rows, carried[session]),
        noise=_noise(fit),
    )


def _of_shared_effects(
    fit: SquadFit, posterior: Posterior, rows: AthleteRows, carried: FloatArray
) -> FloatArray:
    """Variance from the uncertain effects that all share: array of shape (n_rows,).

    It shrinks where the athlete's own efforts were made in the same circumstances, as their level
    then includes the effects.
    """
    if len(fit.learned.shared.value) == 0:
        return np.zeros(rows.efforts)
    apart = shared_regressors(fit, posterior, rows) - carried
    return np.einsum("ie,ef,if->i", apart, fit.learned.shared.covariance, apart)


def _noise(fit: SquadFit) -> FloatArray:
    """Variance that one effort on one day adds, with heavy tails: array of shape (n_curves,)."""
    noise = fit.learned.noise
    effort, day = (1.0 / _precisions(df, step) for df, step in zip(fit.tails, STEPS, strict=True))
    return noise.day**2 * day + noise.session_curve**2 + noise.effort**2 * effort


def _precisions(df: float, step: float) -> FloatArray:
    """Spread the precisions that make a normal a t distribution evenly over the draws."""
    if np.isinf(df):
        return np.ones(CURVES)
    share = (step * (np.arange(CURVES) + 0.5)) % 1.0
    return np.asarray(gammaincinv(df / 2.0, share), dtype=float) * 2.0 / df


def mixture_quantiles(mean: FloatArray, variance: FloatArray, shares: FloatArray) -> FloatArray:
    """Find quantiles of mixtures of equally weighted normals.

    Parameters
    ----------
    mean : array of shape (n, n_parts)
    variance : array of shape (n, n_parts) or (n, 1)
    shares : array of shape (n_shares,)
        Between 0 and 1.

    Returns
    -------
    array of shape (n, n_shares)
    """
    sd = np.sqrt(np.maximum(np.broadcast_to(variance, mean.shape), LEAST_VARIANCE))

    def beyond(value: FloatArray, row: IntArray, share: FloatArray) -> FloatArray:
        apart = (value[:, None] - mean[row]) / sd[row]
        return np.asarray(ndtri(ndtr(apart).mean(axis=1)) - ndtri(share))

    # A mixture's quantile lies between the lowest and the highest of its parts' quantiles.
    of_parts = mean[:, :, None] + sd[:, :, None] * ndtri(shares)
    ends = of_parts.min(axis=1).ravel() - HAIR, of_parts.max(axis=1).ravel() + HAIR
    row = np.repeat(np.arange(len(mean)), len(shares))
    share = np.tile(shares, len(mean))
    found = find_root(beyond, ends, args=(row, share), tolerances={"xatol": HAIR})
    return np.asarray(found.x, dtype=float).reshape(len(mean), len(shares))
