"""The prior for another club, from what many clubs have learned.

Clubs differ too: their means are drawn around a mean of all clubs, with a spread between clubs.
This spread is learned like the one across athletes (a normal hierarchy, random effects;
DerSimonian & Laird 1986), and each club counts by how certain its own mean is. Another club's mean
is expected around that of all clubs, with the spread between clubs and the uncertainty of that
mean. The constants of the warm-up account are joined in the same way, one by one, by moments.

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
"""Fewer clubs say nothing about how clubs differ."""

BETWEEN = Hyperprior(np.zeros(3), np.full(3, 20.0), np.diag([0.3, 0.3, 0.3]) ** 2, 2.0)
"""Clubs' medians differ by about a third, with the weight of two clubs; the prior on their mean is
nearly flat (common practice, no source)."""

STEPS = 60
"""EM steps; more would change nothing in the rounded numbers."""

SPREAD_ATHLETES = 8.0
"""Other clubs' spread counts as much as this many athletes: a club of eight has as much say as all
others (common practice, no source)."""

MEAN_DF = 4.0
"""Degrees of freedom of a club's mean: unusual clubs are rare but possible (Lange, Little & Taylor
1989 use 4 with few data)."""

LEAST_BETWEEN = 0.25
"""Clubs differ in a constant of the account by at least this share of its prior's spread (common
practice, no source)."""

LEAST_WEIGHT, MOST_WEIGHT = 2.0, 40.0
"""Fewest and most observations that other clubs' noise counts as."""


def pooled(told: Sequence[LearnedSummary]) -> SquadPrior:
    """Join what clubs have learned.

    Raises
    ------
    ModelError
        There are too few clubs.
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
    """Give a constant's prior in another club; if no club says anything, it stays as it is."""
    heard = np.array([each for each in told if each is not None])
    if not len(heard):
        return beforehand
    value, own = heard[:, 0], np.square(heard[:, 1])
    between = max(_between(value, own), (LEAST_BETWEEN * beforehand[1]) ** 2)
    weight = np.append(1.0 / (own + between), beforehand[1] ** -2.0)
    mean = float(weight @ np.append(value, beforehand[0]) / weight.sum())
    return max(mean, constant.least_inner), float(np.sqrt(1.0 / weight.sum() + between))


def _between(value: FloatArray, own: FloatArray) -> float:
    """Give the variance between clubs by moments (DerSimonian & Laird 1986); 0 for one club."""
    weight = 1.0 / own
    apart = weight @ np.square(value - weight @ value / weight.sum())
    per_unit = weight.sum() - np.square(weight).sum() / weight.sum()
    return max(float((apart - (len(value) - 1)) / per_unit), 0.0) if len(value) > 1 else 0.0


def _across_clubs(told: Sequence[LearnedSummary]) -> NormalAcross:
    mean = np.array([each.mean for each in told])
    # The true value is anywhere within its rounding step, which adds 1/12 of a squared step.
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
    """Give expected variances, and weights that are larger the more alike the clubs' noise is.

    The log of a scaled inverse chi-squared variance of weight w has a variance of about 2 / w.
    """
    sizes = np.array([each.noise for each in told])
    logs = 2.0 * np.log(sizes)
    weights = np.clip(2.0 / np.maximum(logs.var(axis=0, ddof=1), 1e-9), LEAST_WEIGHT, MOST_WEIGHT)
    return np.exp(logs.mean(axis=0)), weights
