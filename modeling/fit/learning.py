"""The first guess at the squad, and what a round learns from all athletes' sums."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from modeling.compute.sums import Sums, stacked, together
from modeling.curve.shapes import DataRange, Grid, ResponseFamily
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.learned import Learned
from modeling.fit.noise import SizeScores, TailSums, learn_sizes, tail_dfs
from modeling.fit.pooling import NormalAcross, NormalSums, update_normal
from modeling.fit.shared import SharedEffects
from modeling.fit.shared_step import SharedSums, learn_shared
from modeling.fit.squad_fit import EngineSettings

__all__ = [
    "RoundSums",
    "SquadSums",
    "first_guess",
    "learn_effects",
    "learn_level",
    "learn_noise",
    "learn_squad",
    "learn_tails",
]

FloatArray = NDArray[np.float64]

FORM_SMOOTHING = 0.15
"""Evidence that each form starts with, in athletes."""

SQUAD_STEPS = 8
"""Most EM steps for the squad's distribution in a round, with the likelihoods held fixed."""

SQUAD_SETTLED = 0.002
"""These steps end with one that moves mean and spread by less than this share of the spread."""


@dataclass(frozen=True)
class RoundSums(Sums):
    """What athletes say about the squad, once their cells have been weighed.

    Attributes
    ----------
    level : NormalSums or None
        None where levels are not learned.
    sizes : SizeScores
    shared : SharedSums or None
        None where nothing is shared.
    log_evidence : array of shape ()
        Log marginal likelihood of their efforts.
    """

    level: NormalSums | None
    sizes: SizeScores
    shared: SharedSums | None
    log_evidence: FloatArray


@dataclass(frozen=True)
class SquadSums(Sums):
    """What they say about forms and curves, with the likelihoods held fixed.

    Attributes
    ----------
    forms : array of shape (n_forms,)
        Shares of the forms.
    across : NormalSums or None
        None once the distribution of the coordinates has settled.
    """

    forms: FloatArray
    across: NormalSums | None


def first_guess(
    rows: list[AthleteRows],
    settings: EngineSettings,
    data: DataRange,
    grid: Grid,
    shared: SharedEffects,
) -> Learned:
    """Start from the squad's hyperprior and from what the values themselves show."""
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


def learn_squad(
    learned: Learned,
    forms: FloatArray,
    told: Callable[[FloatArray, Learned | None], SquadSums],
    settings: EngineSettings,
    data: DataRange,
) -> tuple[Learned, FloatArray]:
    """Run EM for the squad's distribution and the forms, with the likelihoods held fixed.

    Parameters
    ----------
    learned : Learned
    forms : array of shape (n_forms,)
        Sums of the athletes' shares of the forms so far, plus what each form starts with.
    told : callable
        Gives all athletes' sums, for shares of the forms and a distribution (None once it has
        settled).
    settings : EngineSettings
    data : DataRange

    Returns
    -------
    Learned
    array of shape (n_forms,)
        The new shares.
    """
    before = settings.hyperprior(data)
    settled = settings.level_follows_curve
    for _ in range(SQUAD_STEPS):
        sums = told(forms, None if settled else learned)
        forms = sums.forms + FORM_SMOOTHING
        if sums.across is not None:
            last = learned.across
            across = update_normal(sums.across, last, before)
            learned = replace(learned, across=across)
            settled = across.moved(last) < SQUAD_SETTLED
        if settled and len(forms) == 1:
            break
    return replace(learned, form_weight=forms / forms.sum()), forms


def learn_effects(
    learned: Learned,
    told: SharedSums | None,
    settings: EngineSettings,
    data: DataRange,
    *,
    settled: bool,
    judged: bool,
) -> Learned:
    """Take the Newton step of `learn_shared`, if anything is shared."""
    if told is None:
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


def learn_level(learned: Learned, told: NormalSums | None, settings: EngineSettings) -> Learned:
    """Take an EM step for the level, jointly with the coordinates if it follows them."""
    if told is None:
        return learned
    follows = settings.level_follows_curve
    prior = None if follows else settings.level_prior
    if prior is not None:
        # Centred where the squad is, so that no number depends on the unit of performance.
        prior = replace(prior, mean=learned.level.mean)
    level = update_normal(told, learned.level, prior)
    learned = replace(learned, level=level)
    if follows:
        across = NormalAcross(
            level.mean[1:], level.covariance[1:, 1:], level.mean_covariance[1:, 1:]
        )
        learned = replace(learned, across=across)
    return learned


def learn_noise(
    learned: Learned, told: SizeScores, settings: EngineSettings, data: DataRange
) -> Learned:
    """Step to likelier sizes; how far athletes are from any curve follows from them."""
    free = {
        "effort": True,
        "day": settings.day_effects,
        "drift": settings.day_effects and settings.drift,
        "session_curve": settings.misfit is not None,
    }
    floor = max(0.01 * data.noise, settings.least_noise)
    if settings.prior is not None:
        told = together([stacked([told, settings.prior.size_scores(learned.noise)])])
    noise = learn_sizes(told, learned.noise, floor=floor, free=free)
    if settings.misfit:
        family = cast(ResponseFamily, settings.family)
        gain = float(np.exp(learned.across.mean[family.gain]))
        parts = settings.misfit.of_gain * gain, settings.misfit.of_session * noise.session_curve
        noise = replace(noise, curve=float(np.hypot(*parts)))
    return replace(learned, noise=noise)


def learn_tails(learned: Learned, told: Callable[[FloatArray, bool], TailSums]) -> Learned:
    """Learn how heavy the tails of efforts and days are, from the sums of both."""
    effort, day = tail_dfs(2, told)
    return replace(learned, noise=replace(learned.noise, effort_df=effort, day_df=max(day, 4.0)))


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
