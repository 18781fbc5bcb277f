"""What many clubs have learned, joined to what may be expected of another one.

Clubs differ too: their means are drawn around a mean of all clubs with a spread between clubs,
which is learned as that across athletes is (a normal hierarchy, random effects; DerSimonian &
Laird 1986), each club heard as far as its own mean is certain. Another club's mean is expected
around that of all, by the spread between clubs and what is uncertain of it. The constants of the
warm-up account are joined the same way, one by one, by moments.

References
----------
DerSimonian & Laird (1986), Meta-analysis in clinical trials, Controlled Clinical Trials 7, 177-188.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from modeling.clubs.learned_summary import COORDINATES, LearnedSummary
from modeling.compute.sums import together
from modeling.curve.account import CONSTANTS, Constant
from modeling.curve.shapes import Hyperprior
from modeling.errors import ModelError
from modeling.fit.pooling import Moments, NormalAcross, NormalSums, update_normal
from modeling.fit.prior import SquadPrior
from modeling.fit.shared import BEFOREHAND

__all__ = ["FEWEST_CLUBS", "pooled"]

FloatArray = NDArray[np.float64]

FEWEST_CLUBS = 3
"""Fewer say nothing of how clubs differ."""

BETWEEN = Hyperprior(np.zeros(3), np.full(3, 20.0), np.diag([0.3, 0.3, 0.3]) ** 2, 2.0)
"""Clubs' medians differ by a third or so, with the weight of two clubs; about a mean of which
nothing is thought (common practice, no source)."""

STEPS = 60
"""EM steps; more move nothing that is told."""

SPREAD_ATHLETES = 8.0
"""Athletes' worth that other clubs' spread counts for: a club of eight is heard as much as all
others (common practice, no source)."""

MEAN_DF = 4.0
"""Degrees of freedom of a club's mean: odd clubs are rare, not impossible (Lange, Little & Taylor
1989 use 4 where few data tell)."""

LEAST_BETWEEN = 0.25
"""Of what is thought beforehand of a constant of the account: clubs differ by that much at least
(common practice, no source)."""

LEAST_WEIGHT, MOST_WEIGHT = 2.0, 40.0
"""Observations that another club's noise counts for."""


def pooled(told: Sequence[LearnedSummary]) -> SquadPrior:
    """Join what clubs have learned.

    Raises
    ------
    ModelError
        There are too few.
    """
    if len(told) < FEWEST_CLUBS:
        raise ModelError(
            f"{len(told)} clubs cannot say how clubs differ; give the summaries of at least"
            f" {FEWEST_CLUBS}."
        )
    athletes = np.array([each.athletes for each in told], dtype=float)
    across = _across_clubs(told)
    expected = np.einsum("c,cij->ij", athletes, [each.covariance for each in told])
    curves = Hyperprior(
        mean=across.mean,
        mean_sd=across.widened().sd,
        covariance=expected / athletes.sum(),
        athletes=SPREAD_ATHLETES,
        mean_df=MEAN_DF,
    )
    variances, weights = _noise(told)
    constants = tuple(
        _constant(constant, beforehand, [each.constants[place] for each in told])
        for place, (constant, beforehand) in enumerate(zip(CONSTANTS, BEFOREHAND, strict=True))
    )
    return SquadPrior(COORDINATES, curves, variances, weights, constants)


def _constant(
    constant: Constant,
    beforehand: tuple[float, float],
    told: Sequence[tuple[float, float] | None],
) -> tuple[float, float]:
    """Give what is thought of a constant in another club: as beforehand, where no club tells."""
    heard = np.array([each for each in told if each is not None])
    if not len(heard):
        return beforehand
    value, own = heard[:, 0], np.square(heard[:, 1])
    between = max(_between(value, own), (LEAST_BETWEEN * beforehand[1]) ** 2)
    weight = np.append(1.0 / (own + between), beforehand[1] ** -2.0)
    mean = float(weight @ np.append(value, beforehand[0]) / weight.sum())
    return max(mean, constant.least_inner), float(np.sqrt(1.0 / weight.sum() + between))


def _between(value: FloatArray, own: FloatArray) -> float:
    """Give the variance between clubs by moments (DerSimonian & Laird 1986); 0 of one club."""
    weight = 1.0 / own
    apart = weight @ np.square(value - weight @ value / weight.sum())
    per_unit = weight.sum() - np.square(weight).sum() / weight.sum()
    return max(float((apart - (len(value) - 1)) / per_unit), 0.0) if len(value) > 1 else 0.0


def _across_clubs(told: Sequence[LearnedSummary]) -> NormalAcross:
    mean = np.array([each.mean for each in told])
    # A rounded number is anywhere in its step.
    own = np.array([np.diag(np.square(each.mean_sd) * (1.0 + 1.0 / 12.0)) for each in told])
    now = NormalAcross(mean.mean(axis=0), BETWEEN.covariance, np.zeros((3, 3)))
    for _ in range(STEPS):
        shrunk = now.covariance @ np.linalg.inv(now.covariance + own)
        moments = Moments(
            now.mean + np.einsum("cij,cj->ci", shrunk, mean - now.mean),
            now.covariance - shrunk @ now.covariance,
        )
        now = update_normal(together([NormalSums.of(moments, now)]), now, BETWEEN)
    return now


def _noise(told: Sequence[LearnedSummary]) -> tuple[FloatArray, FloatArray]:
    """Give expected variances, and weights by how alike the clubs' are.

    The log of a scaled inverse chi-squared variance of weight w has a variance of about 2 / w.
    """
    sizes = np.array([each.noise for each in told])
    logs = 2.0 * np.log(sizes)
    weights = np.clip(2.0 / np.maximum(logs.var(axis=0, ddof=1), 1e-9), LEAST_WEIGHT, MOST_WEIGHT)
    return np.exp(logs.mean(axis=0)), weights
