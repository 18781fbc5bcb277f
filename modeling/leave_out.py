"""Each session predicted from all else that is known of its athlete.

For an athlete with efforts y, the posterior of the cells c without session s is ::

    p(c | y without s)  ~  p(c) p(y without s | c)

and given a cell all is normal, so what the other sessions say of this session's level, drift
and day follows in closed form, by taking the session's own efforts out of the posterior of its
effect (Rao-Blackwellised: only the cells are sampled; Casella & Robert 1996). The cells are
drawn once and weighted anew for every session, as in importance sampled leave-one-out
(Vehtari, Gelman & Gabry 2017). Draws from the athlete's posterior alone would fail where one
session carries most of what is known, so draws from the squad's distribution join them and
each draw is weighted against the mixture of both (Owen & Zhou 2000), with the one unknown
constant from Geyer's (1994) equation, which Shirts & Chodera (2008) solve for many samples.
How many equally weighted draws a session's prediction is worth is given with it.

References
----------
Casella & Robert (1996), Rao-Blackwellisation of sampling schemes, Biometrika 83, 81-94.
Geyer (1994), Estimating normalizing constants and reweighting mixtures in Markov chain Monte
Carlo, Technical Report 568, School of Statistics, University of Minnesota.
Owen & Zhou (2000), Safe and effective importance sampling, JASA 95, 135-143.
Shirts & Chodera (2008), Statistically optimal analysis of samples from multiple equilibrium
states, J. Chem. Phys. 129, 124105.
Vehtari, Gelman & Gabry (2017), Practical Bayesian model evaluation using leave-one-out
cross-validation and WAIC, Statistics and Computing 27, 1413-1432.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import expit, ndtr

from modeling.expectation import TailWeights, expected_squares
from modeling.likelihood import SessionModel
from modeling.noise import tail_weights
from modeling.observations import AthleteRows
from modeling.squad_fit import SquadFit

__all__ = ["Evidence", "SessionPlaces", "evidence_of", "session_places", "tails_of"]

FloatArray = NDArray[np.float64]

OWN_DRAWS = 300
SQUAD_DRAWS = 150
REWEIGHINGS = 3


@dataclass(frozen=True)
class Evidence:
    """One athlete's efforts against sampled curves.

    Attributes
    ----------
    rows : AthleteRows
    model : SessionModel
        The covariance of the efforts, with the weights that heavy tails give.
    centred : array of shape (n_efforts,)
        Values less the squad's mean level and the context's effect.
    curve : array of shape (n_efforts, n_draws)
        Sampled curves at the efforts' volumes: first from the athlete's posterior, then from
        the squad's distribution.
    own_draws : int
        How many of the curves are from the athlete's posterior.
    """

    rows: AthleteRows
    model: SessionModel
    centred: FloatArray
    curve: FloatArray
    own_draws: int


@dataclass(frozen=True)
class SessionPlaces:
    """Where one athlete's sessions fell in what the athlete's other sessions predict.

    Attributes
    ----------
    session : array of shape (n_sessions,)
        Probability below the session's observed mean: uniform if the model is right.
    effort : array of shape (n_efforts,)
        The same for each of its efforts, given the other sessions.
    effective_draws : array of shape (n_sessions,)
        How many equally weighted draws the prediction is worth (Kish's effective size).
    """

    session: FloatArray
    effort: FloatArray
    effective_draws: FloatArray


def tails_of(fit: SquadFit) -> tuple[float, float]:
    """Degrees of freedom of efforts and days, infinite in a fit without heavy tails."""
    if not fit.settings.heavy_tails:
        return np.inf, np.inf
    return fit.learned.noise.effort_df, fit.learned.noise.day_df


def evidence_of(
    fit: SquadFit, own_draws: int = OWN_DRAWS, squad_draws: int = SQUAD_DRAWS
) -> list[Evidence]:
    """Hold every athlete's efforts against sampled curves.

    For fits that pool athletes and whose level does not follow the curve, as those of
    `ResponseModel`; sizes and squad distribution stay as fitted.
    """
    posteriors = [(p, p.rows) for p in fit.posteriors if p.rows is not None]
    squad = fit.prior_posterior()
    drawn = squad.sample(squad_draws)
    volume = np.unique(np.concatenate([rows.volume for _, rows in posteriors]))
    squad_curves = fit.curves(squad, drawn, volume)
    known = []
    for posterior, rows in posteriors:
        cells = posterior.sample(own_draws)
        own = fit.curves(posterior, cells, rows.volume)
        centred = fit.learned.centred(rows)
        model = _session_model(fit, rows, centred[:, None] - own)
        at = np.searchsorted(volume, rows.volume)
        known.append(
            Evidence(
                rows=rows,
                model=model,
                centred=centred,
                curve=np.concatenate([own, squad_curves[at]], axis=1),
                own_draws=own_draws,
            )
        )
    return known


def session_places(fit: SquadFit, known: Evidence, rng: np.random.Generator) -> SessionPlaces:
    """Predict each session from the others and place what was observed.

    Heavy tails enter as normals whose variances are drawn from `rng`, one for every day and
    effort.
    """
    rows, model = known.rows, known.model
    residual = known.centred[:, None] - known.curve
    others = _without_each(model, residual)
    weight = _weights_without_each(known, residual, others)
    effort_df, day_df = tails_of(fit)
    day = fit.learned.noise.day**2 / _mixing(day_df, others.mean.shape, rng)
    effort = fit.learned.noise.effort**2 / _mixing(effort_df, residual.shape, rng)
    effort /= rows.weight[:, None]
    # The others say nothing of this session's own day effect: take it out, put the tails in.
    slow = np.clip(others.variance - model.day_variance[:, None], 0.0, None) + day
    counts = np.bincount(rows.session_index)[:, None]
    spread = np.sqrt(slow + rows.session_sums(effort) / counts**2)
    below = ndtr((rows.session_sums(residual) / counts - others.mean) / spread)
    s = rows.session_index
    below_effort = ndtr((residual - others.mean[s]) / np.sqrt(slow[s] + effort))
    return SessionPlaces(
        session=(weight * below).sum(axis=1),
        effort=(weight[s] * below_effort).sum(axis=1),
        effective_draws=1.0 / (weight**2).sum(axis=1),
    )


@dataclass(frozen=True)
class _Others:
    """What the other sessions say of each session's effect, for every draw."""

    mean: FloatArray
    variance: FloatArray
    log_own: FloatArray
    """Log density of the session's own efforts given the others, up to a constant."""
    log_all: FloatArray
    """Log density of all efforts, up to a constant: (n_draws,)."""


def _without_each(model: SessionModel, residual: FloatArray) -> _Others:
    """Take each session's efforts out of the posterior of its own effect (n_sessions, ...)."""
    rows, weight = model.rows, model.weight[:, None]
    precision = model.per_session[:, None]
    left = model.left[:, None]
    means = model.session_means(residual)
    own_mean = rows.session_sums(weight * residual) / precision
    mean = own_mean + (means - own_mean) / left
    variance = model.mean_variance[:, None] / left
    scatter = rows.session_sums(weight * (residual - own_mean[rows.session_index]) ** 2)
    fit_of_all = weight * residual * (residual - means[rows.session_index])
    return _Others(
        mean=mean,
        variance=variance,
        log_own=-0.5 * (scatter + (own_mean - mean) ** 2 / (1.0 / precision + variance)),
        log_all=-0.5 * fit_of_all.sum(axis=0),
    )


def _weights_without_each(known: Evidence, residual: FloatArray, others: _Others) -> FloatArray:
    """Weights that turn the draws into draws without each session: (n_sessions, n_draws)."""
    squad_draws = known.curve.shape[1] - known.own_draws
    log_squad = np.log(squad_draws)
    log_own = np.log(known.own_draws) + others.log_all - others.log_all.max()
    log_odds = log_own - log_squad

    def excess(log_evidence: float) -> float:
        """Draws that look like the athlete's own, less those that are (Geyer's equation)."""
        return float(expit(log_odds - log_evidence).sum()) - known.own_draws

    log_evidence = brentq(excess, log_odds.min() - 50.0, log_odds.max() + 50.0)
    log_mixture = np.logaddexp(log_own - log_evidence, log_squad)
    log_weight = log_own - others.log_own - log_mixture
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return weight / weight.sum(axis=1, keepdims=True)


def _mixing(df: float, shape: tuple[int, ...], rng: np.random.Generator) -> FloatArray:
    """Draw the precisions that make a normal a t distribution; 1 for infinite df."""
    if np.isinf(df):
        return np.ones(shape)
    return rng.standard_gamma(df / 2.0, shape) * (2.0 / df)


def _session_model(fit: SquadFit, rows: AthleteRows, residual: FloatArray) -> SessionModel:
    """Give an athlete's covariance with the weights that the fit's tails settle on."""
    noise, level_sd = fit.learned.noise, fit.learned.level_sd
    effort_df, day_df = tails_of(fit)
    weights = TailWeights.even(rows)
    model = SessionModel.of(rows, noise, level_sd, weights.effort, weights.day)
    for _ in range(REWEIGHINGS if np.isfinite([effort_df, day_df]).any() else 0):
        effort, day = expected_squares(model, residual, model.session_means(residual), noise)
        model = SessionModel.of(
            rows, noise, level_sd, tail_weights(effort, effort_df), tail_weights(day, day_df)
        )
    return model
