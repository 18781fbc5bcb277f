"""Levels of one athlete's sessions, from that athlete's efforts alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.checks.leave_out import Evidence
from modeling.efforts.session_model import NoiseSizes

FloatArray = NDArray[np.float64]

TAIL_DF = 4.0
"""Degrees of freedom of the t weights: efforts far from their session's level count less."""

THINNED = 3
"""Every third sampled curve is enough for means and spreads."""


@dataclass(frozen=True)
class OwnLevels:
    """One athlete's part of `SessionLevels`, with the same attributes."""

    residual: FloatArray
    curve_variance: FloatArray
    weight: FloatArray
    level: FloatArray
    level_variance: FloatArray
    plain_level: FloatArray


def own_levels(known: Evidence, sizes: NoiseSizes) -> OwnLevels:
    """Work out one athlete's levels: means of residuals, with little weight for those far off."""
    rows, noise = known.rows, sizes.effort
    drawn = known.centred[:, None] - known.curve[:, : known.own_draws : THINNED]
    residual = drawn.mean(axis=1)
    plain = known.centred - known.curve[:, known.own_draws :].mean(axis=1)
    usual = float(np.median(residual))
    s = rows.session_index
    starts = np.flatnonzero(np.diff(s)) + 1
    # The athlete's usual level counts too, so with two efforts the likelier one decides.
    level = np.array(
        [
            np.median(own) if len(own) == 1 else np.median([*own, usual])
            for own in np.split(residual, starts)
        ]
    )
    for _ in range(2):
        squared = ((residual - level[s]) / noise) ** 2
        weight = TAIL_DF / (TAIL_DF + squared)
        level = rows.session_sums(weight * residual) / rows.session_sums(weight)
    total = rows.session_sums(weight)
    level_drawn = rows.session_sums(weight[:, None] * drawn) / total[:, None]
    around = level_drawn - level_drawn.mean(axis=0)
    misfit = sizes.curve**2 + sizes.session_curve**2
    return OwnLevels(
        residual=residual,
        curve_variance=(drawn - level_drawn[s]).var(axis=1) + misfit,
        weight=weight,
        level=level,
        level_variance=noise**2 / total + around.var(axis=1),
        plain_level=np.array([np.median(own) for own in np.split(plain, starts)]),
    )
