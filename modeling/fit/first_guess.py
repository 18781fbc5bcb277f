"""What a fit begins with, before any athlete is weighed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import DataRange, Grid
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.learned import Learned
from modeling.fit.pooling import NormalAcross
from modeling.fit.shared import SharedEffects
from modeling.fit.squad_fit import EngineSettings

FloatArray = NDArray[np.float64]


def first_guess(
    rows: list[AthleteRows],
    settings: EngineSettings,
    data: DataRange,
    grid: Grid,
    shared: SharedEffects,
) -> Learned:
    """Take the family's hyperprior, and what the values themselves show, for the squad."""
    before = settings.hyperprior(data)
    if before is None:
        low, high = (np.array([axis[end] for axis in grid.axes]) for end in (0, -1))
        across = _independent((low + high) / 2, (high - low) / 4)
    else:
        across = NormalAcross(before.mean, before.covariance, np.zeros_like(before.covariance))
    centres = np.array([np.median(r.value) for r in rows])
    spread = float(np.std(centres)) if len(rows) > 1 else 0.15
    pooled_level = settings.level == "pooled"
    level = _independent(
        np.array([centres.mean() if pooled_level else 0.0]),
        np.array([max(spread, data.noise) if pooled_level else 0.0]),
    )
    return Learned(
        noise=NoiseSizes(
            effort=data.noise,
            day=0.7 * data.noise if settings.day_effects else 0.0,
            drift=0.5 * data.noise if settings.drift and settings.day_effects else 0.0,
            session_curve=0.3 * data.noise if settings.misfit else 0.0,
        ),
        across=across,
        form_weight=np.full(grid.forms, 1.0 / grid.forms),
        level=_stack_normals(level, across) if settings.level_follows_curve else level,
        shared=shared,
        pooled=settings.pooled,
    )


def _independent(mean: FloatArray, sd: FloatArray) -> NormalAcross:
    return NormalAcross(
        np.asarray(mean, float), np.diag(np.asarray(sd, float) ** 2), np.zeros((len(sd), len(sd)))
    )


def _stack_normals(first: NormalAcross, second: NormalAcross) -> NormalAcross:
    mean = np.concatenate([first.mean, second.mean])
    covariance = np.zeros((len(mean), len(mean)))
    size = len(first.mean)
    covariance[:size, :size], covariance[size:, size:] = first.covariance, second.covariance
    return NormalAcross(mean, covariance, np.zeros_like(covariance))
