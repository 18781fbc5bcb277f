"""What a round learns of the squad from what every athlete's efforts say."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from modeling.curve.shapes import DataRange, Grid, ResponseFamily
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.athlete_grid import TailWeights
from modeling.fit.expectation import AthleteMoments
from modeling.fit.learned import Learned
from modeling.fit.noise import learn_sizes, tail_df, tail_weights
from modeling.fit.pooling import Moments, NormalAcross, form_weights, update_normal
from modeling.fit.posterior import grid_moments
from modeling.fit.shared import learn_shared
from modeling.fit.squad_fit import EngineSettings

__all__ = [
    "learn_effects",
    "learn_level",
    "learn_noise",
    "learn_squad",
    "learn_tails",
    "weights_in_tails",
]

FloatArray = NDArray[np.float64]

FORM_SMOOTHING = 0.15
"""Athletes' worth of evidence that each form starts with."""

SQUAD_STEPS = 8
"""Most EM steps for the squad's distribution in a round, with the likelihoods held."""

SQUAD_SETTLED = 0.002
"""No more of them follow one that moves mean and spread by less than this share of the spread."""


def learn_squad(
    learned: Learned,
    forms: FloatArray,
    moments: list[AthleteMoments],
    grids: list[Grid],
    settings: EngineSettings,
    data: DataRange,
) -> tuple[Learned, FloatArray]:
    """EM for the squad's distribution and the forms, with the likelihoods held.

    `forms` has shape (n_athletes, n_forms): what is thought of each athlete's, before and after.
    """
    evidence = np.stack([m.form_evidence for m in moments])
    form_weight, forms = form_weights(evidence, forms, FORM_SMOOTHING, SQUAD_STEPS)
    learned = replace(learned, form_weight=form_weight)
    if settings.level_follows_curve:
        return learned, forms
    before = settings.hyperprior(data)
    log_over_forms = np.stack([m.log_over_forms for m in moments])
    points = np.stack([grid.coordinates for grid in grids])
    for _ in range(SQUAD_STEPS):
        share = softmax(log_over_forms + learned.cell_log_prior(grids), axis=1)
        last = learned.across
        across = update_normal(grid_moments(share, points), last, before)
        learned = replace(learned, across=across)
        if across.moved(last) < SQUAD_SETTLED:
            break
    return learned, forms


def learn_effects(
    learned: Learned,
    moments: list[AthleteMoments],
    settings: EngineSettings,
    data: DataRange,
    *,
    settled: bool,
    judged: bool,
) -> Learned:
    """Take the Newton step of `learn_shared`, if anything is shared."""
    told = [m.shared for m in moments if m.shared is not None]
    if not told:
        return learned
    before = settings.hyperprior(data)
    size = len(learned.across.mean)
    mean_precision = np.zeros((size, size))
    if before is not None:
        mean_precision = np.diag(before.mean_precision(learned.across.mean))
    shared, across = learn_shared(
        learned.shared,
        told,
        learned.across,
        mean_precision,
        pooled=settings.pooled,
        settled=settled,
        judged=judged,
    )
    return replace(learned, shared=shared, across=across)


def learn_level(
    learned: Learned, moments: list[AthleteMoments], settings: EngineSettings
) -> Learned:
    """EM for the level across athletes, jointly with the coordinates if it follows them."""
    if settings.level != "pooled":
        return learned
    follows = settings.level_follows_curve
    of_levels = Moments(
        np.stack([m.level_mean for m in moments]),
        np.stack([m.level_covariance for m in moments]),
    )
    prior = None if follows else settings.level_prior
    if prior is not None:
        # Centred where the squad is, so that no number depends on the unit of performance.
        prior = replace(prior, mean=learned.level.mean)
    level = update_normal(of_levels, learned.level, prior)
    learned = replace(learned, level=level)
    if follows:
        across = NormalAcross(
            level.mean[1:], level.covariance[1:, 1:], level.mean_covariance[1:, 1:]
        )
        learned = replace(learned, across=across)
    return learned


def learn_noise(
    learned: Learned, moments: list[AthleteMoments], settings: EngineSettings, data: DataRange
) -> Learned:
    """Step to likelier sizes; how far athletes are from any curve follows from them."""
    free = {
        "effort": True,
        "day": settings.day_effects,
        "drift": settings.day_effects and settings.drift,
        "session_curve": settings.misfit is not None,
    }
    floor = max(0.01 * data.noise, settings.least_noise)
    told = [m.sizes for m in moments]
    if settings.prior is not None:
        told.append(settings.prior.size_scores(learned.noise))
    noise = learn_sizes(told, learned.noise, floor=floor, free=free)
    if settings.misfit:
        family = cast(ResponseFamily, settings.family)
        gain = float(np.exp(learned.across.mean[family.gain]))
        parts = settings.misfit.of_gain * gain, settings.misfit.of_session * noise.session_curve
        noise = replace(noise, curve=float(np.hypot(*parts)))
    return replace(learned, noise=noise)


def learn_tails(learned: Learned, moments: list[AthleteMoments]) -> Learned:
    """Learn how heavy the tails of efforts and days are."""
    effort = np.concatenate([m.squared_effort for m in moments])
    day = np.concatenate([m.squared_day for m in moments])
    noise = replace(learned.noise, effort_df=tail_df(effort), day_df=max(tail_df(day), 4.0))
    return replace(learned, noise=noise)


def weights_in_tails(noise: NoiseSizes, moments: list[AthleteMoments]) -> list[TailWeights]:
    """Give each effort and each day the weight its residual deserves."""
    return [
        TailWeights(
            tail_weights(m.squared_effort, noise.effort_df),
            tail_weights(m.squared_day, noise.day_df),
        )
        for m in moments
    ]
