"""An athlete's level on any day, jointly with the curves drawn for them.

Given a curve, the level and the drift follow from a normal regression (`session_model`, with the
athlete's own deviation taken as known): their mean depends on the curve, their variance is the same
for all curves. So the curve and the level of one draw belong together. A value predicted from both
is as certain as the efforts near it allow, even if curve and level are each poorly known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes, SessionModel
from modeling.efforts.spots import DRIFT_DAYS
from modeling.fit.drawn import CURVES
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Levels"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Levels:
    """Level and drift of one athlete under each curve drawn, less the squad's mean.

    Attributes
    ----------
    level_sd, drift_sd : float
        Spread of levels across athletes, and of the drift, before any efforts.
    day : array of shape (n_sessions,)
        Days of the athlete's sessions; empty for an athlete without data.
    pull : array of shape (n_sessions, n_curves)
        What the efforts of each session say: multiplied by their covariance with a level, it
        gives that level's mean.
    told : array of shape (n_sessions, n_sessions)
        How much they say, as a precision.
    shared_pull : array of shape (n_sessions, n_effects)
        `pull` of what each shared effect adds to the efforts.
    """

    level_sd: float
    drift_sd: float
    day: FloatArray
    pull: FloatArray
    told: FloatArray
    shared_pull: FloatArray

    @classmethod
    def of(cls, fit: SquadFit, posterior: Posterior) -> Levels:
        """Compare an athlete's efforts with the curves drawn for them."""
        learned, rows, weights = fit.learned, posterior.rows, posterior.weights
        # Results for one athlete allow for the squad's mean being uncertain.
        level_sd = float(learned.level.widened().sd[0])
        noise = _believed(fit)
        if rows is None or weights is None:
            effects = len(learned.shared.value)
            none = np.zeros((0, CURVES)), np.zeros((0, 0)), np.zeros((0, effects))
            return cls(level_sd, noise.drift, np.zeros(0), *none)
        model = SessionModel.of(fit.spots(rows), noise, level_sd, weights.effort, weights.day)
        volumes, place = rows.tried
        drawn = fit.curves(posterior, volumes) + posterior.draws.top
        residual = learned.centred(rows)[:, None] - drawn[place]

        def pull(column: FloatArray) -> FloatArray:
            return model.spots.by_session(model.pull(model.spot_means(column)))

        added = shared_regressors(fit, posterior, rows)
        return cls(level_sd, noise.drift, rows.day, pull(residual), model.session_told, pull(added))

    def on(self, day: FloatArray | None) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give the levels on some days.

        Parameters
        ----------
        day : array of shape (n_days,) or None
            Counted like the days of the sessions; None is the mean over those days.

        Returns
        -------
        array of shape (n_days, n_curves)
            Means; a single row for None.
        array of shape (n_days,)
            Variances given a curve.
        array of shape (n_days, n_effects)
            How much each shared effect would take from the level if it were larger by 1.
        """
        if day is None and len(self.day):
            alike = _alike(self.day, self.day).mean(axis=0, keepdims=True)
            own = alike.mean(axis=1)
        else:
            # Without sessions one day is as good as another.
            day = np.zeros(1) if day is None else day
            alike, own = _alike(day, self.day), np.ones(len(day))
        with_sessions = self.level_sd**2 + self.drift_sd**2 * alike
        before = self.level_sd**2 + self.drift_sd**2 * own
        known = np.einsum("ds,st,dt->d", with_sessions, self.told, with_sessions)
        variance = np.maximum(before - known, 0.0)
        return with_sessions @ self.pull, variance, with_sessions @ self.shared_pull


def shared_regressors(fit: SquadFit, posterior: Posterior, rows: AthleteRows) -> FloatArray:
    """Say what each shared effect adds to the values of efforts: (n_efforts, n_effects).

    The account's constants move the volume in effect; the slope of the mean curve turns this into
    a change of value.
    """
    shared = fit.learned.shared
    marks = shared.design(rows)[rows.session_index]
    if not any(shared.constants):
        return marks
    step = 0.01 * rows.volume + 0.001 * fit.data.highest_volume
    ahead, behind = (
        fit.curves(posterior, volume).mean(axis=1)
        for volume in (rows.volume + step, np.maximum(rows.volume - step, 0.0))
    )
    slope = (ahead - behind) / (step + np.minimum(step, rows.volume))
    moves = shared.account.slopes(rows.work)[:, list(shared.constants)]
    return np.concatenate([marks, slope[:, None] * moves], axis=1)


def _believed(fit: SquadFit) -> NoiseSizes:
    """Give the noise of an athlete's efforts; deviations are already in the drawn curves."""
    return replace(fit.learned.noise, curve=0.0)


def _alike(day: FloatArray, other: FloatArray) -> FloatArray:
    return np.exp(-np.abs(day[:, None] - other) / DRIFT_DAYS)
