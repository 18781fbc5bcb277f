"""The step of a round that needs one athlete only, and what the rest of the round needs from it.

Everything here is a pure function of one athlete's efforts and of what has been learned so
far, so athletes can be done side by side, in threads or in processes. What comes back is small:
likelihoods with the forms averaged out, moments, sums of residuals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import ResponseFamily
from modeling.efforts.cell_likelihood import cell_log_likelihood, features
from modeling.efforts.session_model import SessionModel
from modeling.fit.athlete_grid import AthleteGrid, CellPrior, TailWeights
from modeling.fit.drawn import Deviations, Drawn, draw_between_nodes, even_sample
from modeling.fit.learned import Learned
from modeling.fit.noise import SizeScores
from modeling.fit.posterior import Posterior, likely_cells
from modeling.fit.shared_step import SharedMoments

__all__ = [
    "AthleteMoments",
    "expect",
    "expected_squares",
    "log_evidence",
    "posterior",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

NOTHING = -200.0
"""The exponential of a log this low, or lower, is 0 in single precision."""


@dataclass(frozen=True)
class AthleteMoments:
    """What a round needs to know of one athlete.

    Attributes
    ----------
    log_over_forms : array of shape (n_cells_per_form,)
        Log of the coordinates' relative likelihood, forms averaged out; minus infinity where
        likelihood and prior together are negligible.
    form_evidence : array of shape (n_forms,)
        Relative likelihood of each form, coordinates averaged out.
    sizes : SizeScores
        For the noise sizes.
    squared_effort, squared_day : arrays of shape (n_efforts,), (n_sessions,)
        Expected squares of the standardised efforts and days.
    level_mean, level_covariance : arrays of shape (d,), (d, d)
        Moments of the level, jointly with the coordinates if it follows the curve.
    shared : SharedMoments or None
        Their part in learning what all athletes share; None if nothing is shared.
    session_effects : array of shape (n_sessions,)
        Expected level, drift, day and shared effects of each session together.
    session_variances : array of shape (n_sessions,)
        How uncertain these are.
    log_evidence : float
        Log marginal likelihood of the efforts.
    """

    log_over_forms: FloatArray
    form_evidence: FloatArray
    sizes: SizeScores
    squared_effort: FloatArray
    squared_day: FloatArray
    level_mean: FloatArray
    level_covariance: FloatArray
    shared: SharedMoments | None
    session_effects: FloatArray
    session_variances: FloatArray
    log_evidence: float


@dataclass(frozen=True)
class _Weighed:
    """Every cell's likelihood times its coordinates' prior, relative to the highest product.

    The two are added as logs. Where efforts and squad disagree, either factor alone may underflow
    in just those cells where their product does not.
    """

    model: SessionModel
    joint: NDArray[np.float32]
    prior: CellPrior
    highest: float

    def posterior(self) -> FloatArray:
        """Unnormalised posterior of the flat cells."""
        return (self.prior.forms[:, None] * self.joint).ravel()

    def log_over_forms(self) -> FloatArray:
        """Log of the coordinates' relative likelihood, forms averaged out."""
        over_forms = (self.prior.forms.astype(np.float32) @ self.joint).astype(float)
        nothing = np.full(len(over_forms), -np.inf)
        log_joint = np.log(over_forms, out=nothing, where=over_forms > 0.0)
        return log_joint - self.prior.log_coordinates

    def log_evidence(self, weight: FloatArray) -> float:
        """Log marginal likelihood, of the unnormalised posterior."""
        return self.highest + float(np.log(weight.sum()))


def _weigh(own: AthleteGrid, weights: TailWeights, prior: CellPrior, learned: Learned) -> _Weighed:
    rows, grid = own.rows, own.grid
    model = SessionModel.of(own.spots, learned.noise, learned.level_sd, weights.effort, weights.day)
    found = features(model, learned.centred(rows), own.basis, grid)
    log_joint = cell_log_likelihood(found, grid, learned.level_shift(grid))
    log_joint += prior.log_coordinates
    highest = float(log_joint.max())
    joint = np.exp(np.maximum(log_joint - highest, NOTHING).astype(np.float32))
    return _Weighed(model, joint, prior, highest)


def expect(
    own: AthleteGrid, weights: TailWeights, prior: CellPrior, learned: Learned, curves: int
) -> AthleteMoments:
    """Weigh an athlete's cells and condense what follows from them.

    Parameters
    ----------
    own : AthleteGrid
    weights : TailWeights
    prior : CellPrior
    learned : Learned
    curves : int
        Curves drawn at even steps of the athlete's posterior; moments of residuals are means
        over them.
    """
    weighed = _weigh(own, weights, prior, learned)
    rows, model, grid = own.rows, weighed.model, own.grid
    weight = weighed.posterior()
    cells = even_sample(weight, curves)
    residual = learned.centred(rows)[:, None] - own.curves(cells)
    here = cells % grid.cells_per_form
    shift = learned.level_shift(grid)
    if shift is not None:
        residual = residual - shift[here]
    means = model.spot_means(residual)
    pull = model.pull(means)
    left = residual - model.effects_of(means, pull)[model.spots.of_effort]
    squared_effort, squared_day = expected_squares(model, left, pull)
    effects = model.session_effects(pull)
    coordinates = grid.at(cells) if learned.level_follows_curve else None
    level_mean, level_covariance = _level_moments(
        model, residual, learned, None if shift is None else shift[here], coordinates
    )
    return AthleteMoments(
        log_over_forms=weighed.log_over_forms(),
        form_evidence=weighed.joint.sum(axis=1).astype(float),
        sizes=SizeScores.of(model, left, pull, weights.day),
        squared_effort=squared_effort,
        squared_day=squared_day,
        level_mean=level_mean,
        level_covariance=level_covariance,
        shared=_shared_moments(own, cells, model, left, learned),
        session_effects=learned.level_mean
        + learned.shared.of_sessions(rows)
        + effects.mean(axis=1),
        session_variances=effects.var(axis=1) + model.session_variances,
        log_evidence=weighed.log_evidence(weight),
    )


def log_evidence(
    own: AthleteGrid, weights: TailWeights, prior: CellPrior, learned: Learned
) -> float:
    """Give the log marginal likelihood of an athlete's efforts; parameters as for `expect`."""
    weighed = _weigh(own, weights, prior, learned)
    return weighed.log_evidence(weighed.posterior())


def posterior(
    own: AthleteGrid,
    weights: TailWeights,
    prior: CellPrior,
    learned: Learned,
    space: Deviations | None,
) -> Posterior:
    """Give an athlete's whole posterior, with curves drawn from it if there is a `space` for them.

    Other parameters as for `expect`.
    """
    weighed = _weigh(own, weights, prior, learned)
    weight = weighed.posterior()
    drawn = None
    if space is not None:
        family = cast(ResponseFamily, own.family)
        form, coordinates = draw_between_nodes(weight, own.grid)
        model = weighed.model
        curves = family.curves(form, coordinates, own.rows.tried[0])
        level = model.spot_means(learned.centred(own.rows))
        means = level[:, None] - model.means_of_curves(curves)
        drawn_of = model.noise.curve * space.coefficients(model, means)
        drawn = Drawn.of(family, form, coordinates, drawn_of, space)
    cells, kept = likely_cells(weight / weight.sum())
    evidence = weighed.log_evidence(weight)
    return Posterior(own.rows, own.grid, cells, kept, evidence, drawn, weights)


def expected_squares(
    model: SessionModel, left: FloatArray, pull: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give expected squares of efforts and days in units of their noise, for the tails.

    Parameters
    ----------
    model : SessionModel
    left : array of shape (n_efforts, n_curves)
        Residuals less the spots' effects.
    pull : array of shape (n_spots, n_curves)
        `SessionModel.pull` of the residuals.
    """
    rows, noise, spots = model.rows, model.noise, model.spots
    uncertain = (1.0 - model.left) / model.per_spot
    effort = (left**2).mean(axis=1) + uncertain[spots.of_effort]
    day = model.day_variance[:, None] * spots.by_session(pull)
    still = model.day_variance * (1.0 - model.day_variance * np.diagonal(model.session_told))
    squared_day = ((day**2).mean(axis=1) + still) / max(noise.day, 1e-12) ** 2
    return effort * rows.weight / noise.effort**2, squared_day


def _level_moments(
    model: SessionModel,
    residual: FloatArray,
    learned: Learned,
    shift: FloatArray | None,
    coordinates: FloatArray | None,
) -> tuple[FloatArray, FloatArray]:
    variance = learned.level_sd**2
    pull = model.precise_one @ residual
    certain = float(model.precise_one.sum())
    drawn = (learned.level_mean + variance * pull)[:, None]
    if shift is not None and coordinates is not None:
        drawn = np.concatenate([drawn + shift[:, None], coordinates], axis=1)
    mean = drawn.mean(axis=0)
    apart = drawn - mean
    covariance = apart.T @ apart / len(drawn)
    covariance[0, 0] += max(variance - variance**2 * certain, 0.0)
    return mean, covariance


def _shared_moments(
    own: AthleteGrid,
    cells: IntArray,
    model: SessionModel,
    left: FloatArray,
    learned: Learned,
) -> SharedMoments | None:
    """Give the score and information of the shared effects over the cells drawn.

    `left` holds the residuals less the spots' effects, (n_efforts, n_cells).

    Regressors of the level are the same in every cell; those of the account's constants are the
    curve's slope times what the constant does to the volume in effect.
    """
    shared, rows = learned.shared, own.rows
    if len(shared.value) == 0:
        return None
    marks = shared.design(rows)[rows.session_index]
    regressors = np.repeat(marks[:, :, None], len(cells), axis=2)
    if any(shared.constants):
        moves = shared.account.slopes(rows.work)[:, list(shared.constants)]
        by_curve = own.slopes(cells)[:, None, :] * moves[:, :, None]
        regressors = np.concatenate([regressors, by_curve], axis=1)
    precise = model.weight[:, None] * left
    score = np.einsum("isc,ic->sc", regressors, precise)
    count, effects, curves = regressors.shape
    weighted = model.precision_times(regressors.reshape(count, -1)).reshape(regressors.shape)
    complete = np.einsum("isc,itc->st", regressors, weighted, optimize=True) / curves
    both = np.concatenate([score, own.grid.at(cells).T])
    spread, mean = np.cov(both, bias=True), both.mean(axis=1)
    return SharedMoments(
        score=mean[:effects],
        complete=complete,
        score_covariance=spread[:effects, :effects],
        with_coordinates=spread[:effects, effects:],
        coordinates=spread[effects:, effects:],
        coordinate_mean=mean[effects:],
    )
