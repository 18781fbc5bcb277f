"""Each session predicted from everything else that is known about its athlete.

For an athlete with efforts y, the posterior of the cells c without session s is ::

    p(c | y without s)  ~  p(c) p(y without s | c)

Given a cell, everything is normal. So what the other sessions say about this session's level,
drift and day follows in closed form: take the session's own efforts out of the posterior of its
effect (Rao-Blackwellised: only the cells are sampled; Casella & Robert 1996). The cells are
drawn once and reweighted for every session, as in importance-sampled leave-one-out (Vehtari,
Gelman & Gabry 2017). Draws from the athlete's posterior alone would fail where one session
carries most of the information, so draws from the squad's distribution are added. Each draw is
weighted against the mixture of both (Owen & Zhou 2000). The one unknown constant comes from
Geyer's (1994) equation, which Shirts & Chodera (2008) solve for many samples. Each prediction
comes with the number of equally weighted draws that it is worth.

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

from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import SessionModel
from modeling.fit.athlete_grid import TailWeights
from modeling.fit.expectation import expected_squares
from modeling.fit.noise import tail_weights
from modeling.fit.squad_fit import SquadFit

__all__ = ["Evidence", "SessionPlaces", "evidence_of", "session_places"]

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
        Covariance of the efforts, with the weights from heavy tails.
    centred : array of shape (n_efforts,)
        Values less the squad's mean level and the context's effect.
    curve : array of shape (n_efforts, n_draws)
        Sampled curves at the efforts' volumes: first from the athlete's posterior, then from
        the squad's distribution.
    own_draws : int
        Number of curves from the athlete's posterior.
    """

    rows: AthleteRows
    model: SessionModel
    centred: FloatArray
    curve: FloatArray
    own_draws: int


@dataclass(frozen=True)
class SessionPlaces:
    """Where one athlete's sessions fell in the prediction from the athlete's other sessions.

    Attributes
    ----------
    session : array of shape (n_sessions,)
        Probability below the session's observed mean: uniform if the model is right.
    effort : array of shape (n_efforts,)
        The same for each of its efforts, given the other sessions.
    effective_draws : array of shape (n_sessions,)
        Number of equally weighted draws that the prediction is worth (Kish's effective size).
    """

    session: FloatArray
    effort: FloatArray
    effective_draws: FloatArray


def evidence_of(
    fit: SquadFit, own_draws: int = OWN_DRAWS, squad_draws: int = SQUAD_DRAWS
) -> list[Evidence]:
    """Compare every athlete's efforts with sampled curves.

    This is for fits that pool athletes and whose level does not follow the curve, such as those
    of `ResponseModel`. Noise sizes and the squad's distribution stay as fitted.
    """
    posteriors = [(p, p.rows) for p in fit.posteriors if p.rows is not None]
    squad = fit.prior_posterior()
    volume = np.unique(np.concatenate([rows.volume for _, rows in posteriors]))
    squad_curves = fit.curves_of_cells(squad, squad.sample(squad_draws), volume)
    known = []
    for posterior, rows in posteriors:
        own = fit.curves_of_cells(posterior, posterior.sample(own_draws), rows.volume)
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
    """Predict each session from the others, and find the place of what was observed.

    Heavy tails enter as normals whose variances are drawn from `rng`, one for every day and
    effort.
    """
    rows, model = known.rows, known.model
    residual = known.centred[:, None] - known.curve
    others = _without_each(model, residual)
    misfit = fit.settings.misfit
    weight = _weights_without_each(known, others, misfit.believed if misfit else 1.0)
    effort_df, day_df = fit.tails
    noise, session, spot = fit.learned.noise, rows.session_index, model.spots.of_effort
    # The others say nothing about this session's own day effect, so give its variance the tails.
    own_day = noise.day**2 / _mixing(day_df, weight.shape, rng) - model.day_variance[:, None]
    effort = noise.effort**2 / _mixing(effort_df, residual.shape, rng) / rows.weight[:, None]
    left = residual - others.mean[spot]
    spread = np.clip(others.variance[spot][:, None] + own_day[session], 0.0, None) + effort
    counts = np.bincount(session)[:, None]
    of_mean = np.clip(others.mean_variance[:, None] + own_day, 0.0, None)
    of_mean = of_mean + rows.session_sums(effort) / counts**2
    below = ndtr(rows.session_sums(left) / counts / np.sqrt(of_mean))
    below_effort = ndtr(left / np.sqrt(spread))
    return SessionPlaces(
        session=(weight * below).sum(axis=1),
        effort=(weight[session] * below_effort).sum(axis=1),
        effective_draws=1.0 / (weight**2).sum(axis=1),
    )


@dataclass(frozen=True)
class _Others:
    """What the other sessions say about each session's effects, for every draw.

    Attributes
    ----------
    mean : array of shape (n_spots, n_draws)
        Mean of the session's effects at its spots.
    variance : array of shape (n_spots,)
    mean_variance : array of shape (n_sessions,)
        Variance of the mean of these effects over the session's efforts.
    log_own : array of shape (n_sessions, n_draws)
        Log density of the session's own efforts given the others, up to a constant.
    log_all : array of shape (n_draws,)
        Log density of all efforts, up to a constant.
    """

    mean: FloatArray
    variance: FloatArray
    mean_variance: FloatArray
    log_own: FloatArray
    log_all: FloatArray


def _without_each(model: SessionModel, residual: FloatArray) -> _Others:
    """Take each session's efforts out of the posterior of its own effects.

    With M the precision of the spots' means and m the residuals there, the means of one session
    given the others are normal about m - M_ss^-1 (M m)_s with covariance M_ss^-1 (Rasmussen &
    Williams 2006, section 5.4.2, for blocks).
    """
    spots, weight = model.spots, model.weight[:, None]
    at_spot = model.spot_means(residual)
    scatter = spots.sums(weight * (residual - at_spot[spots.of_effort]) ** 2)
    pull = model.pull(at_spot)
    mean, variance = np.empty_like(at_spot), np.empty(len(at_spot))
    sessions = len(model.rows.sessions)
    mean_variance, log_own = np.empty(sessions), np.empty((sessions, residual.shape[1]))
    efforts = spots.sums(np.ones(model.rows.efforts))
    for session in range(sessions):
        own = np.flatnonzero(spots.session == session)
        covariance = np.linalg.inv(model.told[np.ix_(own, own)])
        apart = covariance @ pull[own]
        mean[own] = at_spot[own] - apart
        log_own[session] = -0.5 * ((pull[own] * apart).sum(axis=0) + scatter[own].sum(axis=0))
        effects = covariance - np.diag(1.0 / model.per_spot[own])
        variance[own] = np.diagonal(effects)
        share = efforts[own] / efforts[own].sum()
        mean_variance[session] = share @ effects @ share
    log_all = -0.5 * (residual * model.precision_times(residual)).sum(axis=0)
    return _Others(mean, variance, mean_variance, log_own, log_all)


def _weights_without_each(known: Evidence, others: _Others, believed: float) -> FloatArray:
    """Weights that turn the draws into draws without each session: (n_sessions, n_draws).

    `believed` is the power of the likelihood that was used to draw the athlete's curves.
    """
    squad_draws = known.curve.shape[1] - known.own_draws
    log_squad = np.log(squad_draws)
    log_all = believed * (others.log_all - others.log_all.max())
    log_own = np.log(known.own_draws) + log_all
    log_odds = log_own - log_squad

    def excess(log_evidence: float) -> float:
        """Give expected less actual draws from the athlete's posterior (Geyer's equation)."""
        return float(expit(log_odds - log_evidence).sum()) - known.own_draws

    log_evidence = brentq(excess, log_odds.min() - 50.0, log_odds.max() + 50.0)
    log_mixture = np.logaddexp(log_own - log_evidence, log_squad)
    log_weight = log_own - believed * others.log_own - log_mixture
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return weight / weight.sum(axis=1, keepdims=True)


def _mixing(df: float, shape: tuple[int, ...], rng: np.random.Generator) -> FloatArray:
    """Draw the precisions that make a normal a t distribution; 1 for infinite df."""
    if np.isinf(df):
        return np.ones(shape)
    return rng.standard_gamma(df / 2.0, shape) * (2.0 / df)


def _session_model(fit: SquadFit, rows: AthleteRows, residual: FloatArray) -> SessionModel:
    """Give an athlete's covariance, with weights that have settled under the fit's tails."""
    noise, level_sd, spots = fit.learned.noise, fit.learned.level_sd, fit.spots(rows)
    effort_df, day_df = fit.tails
    weights = TailWeights.even(rows)
    model = SessionModel.of(spots, noise, level_sd, weights.effort, weights.day)
    for _ in range(REWEIGHINGS if np.isfinite([effort_df, day_df]).any() else 0):
        left = residual - model.effects(residual)[spots.of_effort]
        pull = model.pull(model.spot_means(residual))
        effort, day = expected_squares(model, left, pull)
        model = SessionModel.of(
            spots, noise, level_sd, tail_weights(effort, effort_df), tail_weights(day, day_df)
        )
    return model
