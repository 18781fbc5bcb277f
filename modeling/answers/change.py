"""Whether, when and how far an athlete's best volume has changed.

Every possible cut splits the sessions in two. Each part has its own level, so a changed level is
no evidence. Without a change both parts share one curve. With a change the later part has another
best volume, by a factor around a half or a double, and the rest of the curve is the same. Given a
cell of the grid, level and days integrate out in closed form from sums over sessions, so running
sums give every cut at once. The chance that there was a change comes from the mean of the cuts'
Bayes factors and the prior odds (Barry & Hartigan 1993 with at most one change). Each cut's share
of that mean says when.

At one volume a changed curve and a changed level look alike: `tellable` is then False.

References
----------
Barry & Hartigan (1993), A Bayesian analysis for change point problems, JASA 88, 309-319.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import expit, logit, logsumexp, softmax

from modeling.answers.response import BEST
from modeling.curve.shapes import Grid
from modeling.efforts.cell_likelihood import curves_of_cells
from modeling.efforts.observations import AthleteRows
from modeling.estimate import QUANTILES, Estimate, estimate, weighted_quantiles
from modeling.fit.pooling import log_density
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["NOTHING_TOLD", "BestVolumeChange", "best_volume_change"]

FloatArray = NDArray[np.float64]

CHANGES_A_SEASON = 0.1
"""Prior chance that an athlete's best volume changes within the sessions at hand."""

CHANGE_LOG_SIZE, CHANGE_LOG_SD = 0.7, 0.35
"""Mean and spread of the log factors that count as a change: around a doubling or a halving."""

LEVEL_JUMP_SD = 0.02
"""Spread of the jump in level between the parts, besides the days' (common practice, no source)."""

FORMS = 4
"""How many of the athlete's likeliest forms are tried."""

ROOM = 0.2
"""How far the grid reaches past the athlete's own in coordinates other than best volume."""

ENDS = np.array([0.05, 0.95])

FEWEST_SESSIONS = 2
"""A part with fewer sessions says too little."""

MOST_CUTS = 200
"""With more possible cuts than this, only evenly spaced ones are tried."""


@dataclass(frozen=True)
class BestVolumeChange:
    """What an athlete's sessions say about a change of best volume.

    Attributes
    ----------
    chance : float
        Probability that there was a change.
    since, since_earliest, since_latest : object
        The session that most likely began the change, and the first and last of its 90 %
        interval; None with too few sessions.
    before, after : Estimate or None
        Best volume before and after the change, if there was one; None with too few sessions.
    tellable : bool
        Whether the later part has efforts at volumes different enough to tell a changed curve
        from a changed level.
    sessions_since : int
        Sessions in the later part.
    """

    chance: float
    since: object
    since_earliest: object
    since_latest: object
    before: Estimate | None
    after: Estimate | None
    tellable: bool
    sessions_since: int


NOTHING_TOLD = BestVolumeChange(0.0, None, None, None, None, None, False, 0)


def best_volume_change(fit: SquadFit, posterior: Posterior) -> BestVolumeChange:
    """Weigh every cut of an athlete's sessions.

    Parameters
    ----------
    fit : SquadFit
        What it learned of the squad is held fixed.
    posterior : Posterior
        The athlete's; without rows there is nothing to weigh.
    """
    rows = posterior.rows
    if rows is None or len(rows.sessions) < 2 * FEWEST_SESSIONS:
        return NOTHING_TOLD
    grid = _wider(fit, posterior)
    per_form = grid.cells_per_form
    share = np.bincount(
        posterior.cells // posterior.grid.cells_per_form, posterior.weight, grid.forms
    )
    forms = np.argsort(share)[::-1][:FORMS]
    cells = (forms[:, None] * per_form + np.arange(per_form)).ravel()
    curves = curves_of_cells(fit.settings.family, grid, cells, rows.volume)
    sums = _running_sums(fit, rows, curves)
    prior = np.log(fit.learned.form_weight[forms] + 1e-12)[:, None]
    prior = (prior + log_density(grid.coordinates, fit.learned.across)).ravel()
    axis = grid.axes[BEST]
    step = _steps(axis)[None, :, :, None]
    ends = FEWEST_SESSIONS, len(rows.sessions) - FEWEST_SESSIONS
    cuts = np.linspace(*ends, min(ends[1] - ends[0] + 1, MOST_CUTS)).round().astype(int)
    odds, befores, afters = [], [], []
    for cut in cuts:
        first, second, pairing = sums.cut(int(cut), fit.learned.level_sd)
        shape = (len(forms), len(axis), -1)
        earlier, later = (first + prior).reshape(shape), second.reshape(shape)
        linear = [each.reshape(shape) for each in sums.linear(int(cut))]
        # Axes: form, best volume before, best volume after, gain and hold.
        pair = pairing * linear[0][:, :, None] * linear[1][:, None]
        pair += earlier[:, :, None] + later[:, None]
        # Work with logs: the sum would underflow for a season that one curve cannot describe.
        top, same = pair.max(), logsumexp(np.einsum("fbbr->fbr", pair))
        pair = np.exp(pair - top)
        pair *= step
        odds.append(float(np.log(pair.sum()) + top - same))
        befores.append(pair.sum(axis=(0, 2, 3)) / pair.sum())
        afters.append(pair.sum(axis=(0, 1, 3)) / pair.sum())
    against = logsumexp(odds) - np.log(len(odds))
    weights = softmax(odds)
    earliest, latest = (int(cuts[i]) for i in np.searchsorted(weights.cumsum(), ENDS))
    start = int(cuts[np.argmax(odds)])
    return BestVolumeChange(
        chance=float(expit(against + logit(CHANGES_A_SEASON))),
        since=rows.sessions[start],
        since_earliest=rows.sessions[earliest],
        since_latest=rows.sessions[latest],
        before=_estimate(axis, np.tensordot(weights, np.array(befores), axes=1)),
        after=_estimate(axis, np.tensordot(weights, np.array(afters), axes=1)),
        tellable=_spans(rows.volume[rows.session_index >= start]),
        sessions_since=len(rows.sessions) - start,
    )


def _wider(fit: SquadFit, posterior: Posterior) -> Grid:
    """Lay a grid like the athlete's own, with room for best volume to move."""
    low = np.array([axis[0] for axis in posterior.grid.axes])
    high = np.array([axis[-1] for axis in posterior.grid.axes])
    room = np.full(len(low), ROOM)
    room[BEST] = 2.0 * CHANGE_LOG_SIZE
    return fit.settings.family.grid(fit.data, (low - room, high + room))


@dataclass(frozen=True)
class _RunningSums:
    """Sums over the sessions before each cut: arrays of shape (n_sessions + 1, ...)."""

    precision: FloatArray
    pull: FloatArray
    squares: FloatArray

    def linear(self, cut: int) -> tuple[FloatArray, FloatArray]:
        """Give the pull on the level of the sessions before a cut and from it, (n_cells,) each."""
        return self.pull[cut], self.pull[-1] - self.pull[cut]

    def cut(self, cut: int, level_sd: float) -> tuple[FloatArray, FloatArray, float]:
        """Give both parts' log likelihoods, and the factor of the product of their pulls.

        The parts' levels are normal with the squad's spread and a jump between them.
        """
        first, second = self.linear(cut)
        known = np.diag([self.precision[cut], self.precision[-1] - self.precision[cut]])
        level = np.full((2, 2), max(level_sd, 1e-6) ** 2)
        level[1, 1] += LEVEL_JUMP_SD**2
        spread = np.linalg.inv(np.linalg.inv(level) + known)
        squares = self.squares[cut], self.squares[-1] - self.squares[cut]
        return (
            0.5 * (spread[0, 0] * first**2 - squares[0]),
            0.5 * (spread[1, 1] * second**2 - squares[1]),
            float(spread[0, 1]),
        )


def _running_sums(fit: SquadFit, rows: AthleteRows, curves: FloatArray) -> _RunningSums:
    learned = fit.learned
    noise = learned.noise
    residual = learned.centred(rows)[:, None] - curves
    weight = rows.weight * _tails(residual, noise.effort) / noise.effort**2
    total = rows.session_sums(weight)
    # A sparse product with one row of weights per session is faster than sums over rows.
    places = rows.session_index, np.arange(rows.efforts)
    weights = sparse.csr_array((weight, places), shape=(len(total), rows.efforts))
    mean = np.asarray(weights @ residual) / total[:, None]
    within = np.asarray(weights @ residual**2) - total[:, None] * mean**2
    precision = 1.0 / (noise.day**2 + noise.drift**2 + noise.session_curve**2 + 1.0 / total)
    pull = precision[:, None] * mean
    return _RunningSums(_from_zero(precision), _from_zero(pull), _from_zero(pull * mean + within))


def _from_zero(each: FloatArray) -> FloatArray:
    return np.concatenate([np.zeros_like(each[:1]), np.cumsum(each, axis=0)])


def _tails(residual: FloatArray, effort: float) -> FloatArray:
    """Weights of the efforts: small for those that are far from the overall mean on any curve."""
    least = np.abs(residual - residual.mean(axis=1, keepdims=True).mean()).min(axis=1)
    return 1.0 / np.maximum(1.0, (least / (3.0 * effort)) ** 2)


def _steps(axis: FloatArray) -> FloatArray:
    apart = np.abs(axis[None, :] - axis[:, None]) - CHANGE_LOG_SIZE
    density = np.exp(-0.5 * (apart / CHANGE_LOG_SD) ** 2)
    return density / density.sum(axis=1, keepdims=True)


def _estimate(axis: FloatArray, mass: FloatArray) -> Estimate:
    return estimate(np.exp(weighted_quantiles(axis, mass, QUANTILES)))


def _spans(volume: FloatArray) -> bool:
    """Whether volumes differ by a factor of 3 or more, 0 counting as 1."""
    return float(volume.max()) >= 3.0 * max(float(volume.min()), 1.0)
