"""The hierarchical engine: every athlete's whole posterior on a grid, the squad learned by EM.

For athlete a, session s, effort i, with y the transformed value::

    y = level(a) + drift(a, t) + day(a, s) + context(s) + f_a(volume) + e

Given the cell of f_a the rest is linear and normal and integrates out exactly (`likelihood`).
A round of the fit computes every cell's likelihood, learns the squad's distribution from them
(`pooling`), draws an evenly spaced sample of each athlete's plausible curves, and learns noise,
weights, levels and context effects from the residuals of that sample (`noise`). The first
rounds use a wide, coarse grid; the others a finer one laid around what the first found.

This is empirical Bayes: sizes and squad distribution are point estimates (with a correction for
the uncertain squad mean), everything about an athlete is a weighted sum over cells. Its weak
point is a squad of very few athletes, where the spread across athletes comes mostly from the
family's hyperprior.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from modeling.observations import AthleteRows
from modeling.posterior import Posterior
from modeling.rounds import Rounds
from modeling.squad_fit import EngineSettings, SquadFit

__all__ = ["fit_squad", "fold_athlete"]

FloatArray = NDArray[np.float64]
Progress = Callable[[float], None]

COARSE_ROUNDS = 3
"""Rounds on the wide grid, before each athlete's own is laid."""


def fit_squad(
    rows: list[AthleteRows],
    settings: EngineSettings,
    progress: Progress | None = None,
    jobs: int | None = None,
) -> SquadFit:
    """Fit the model to all athletes.

    Parameters
    ----------
    rows : list of AthleteRows
        From `observations.arrange`.
    settings : EngineSettings
    progress : callable, optional
        Called with the share done, 0 to 1.
    jobs : int, optional
        Athletes done side by side, in joblib's sense; any joblib backend serves.
    """
    # The matrices are small: threads of the linear algebra would only wait for each other.
    with threadpool_limits(1):
        return _rounds(
            Rounds.begin(rows, settings, jobs), settings, progress or (lambda share: None)
        )


def _rounds(state: Rounds, settings: EngineSettings, report: Progress) -> SquadFit:
    for done in range(COARSE_ROUNDS):
        state.round()
        report(0.05 * (done + 1))
    used = 0
    for used in range(1, settings.rounds + 1):
        if used in (1, 3, 6):
            state.lay_fine_grids()
        moved = state.round()
        report(0.15 + 0.85 * used / settings.rounds)
        if used >= 4 and moved < settings.tolerance:
            break
    report(1.0)
    return state.result(used)


def fold_athlete(fit: SquadFit, rows: AthleteRows) -> tuple[Posterior, FloatArray]:
    """Fit one athlete with all that the squad taught held fixed.

    Returns
    -------
    Posterior
        The athlete's posterior.
    array of shape (n_sessions,)
        Expected level, drift, day and context of their sessions together.
    """
    state = Rounds.resume(fit, [rows])
    state.expect()
    state.lay_fine_grids()
    state.expect()
    for _ in range(3 if fit.settings.heavy_tails else 0):
        state.reweigh(learn_tails=False)
        state.expect()
    return state.posteriors()[0], state.moments[0].session_effects
