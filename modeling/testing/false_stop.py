"""How often the stop rule of a fade test fires although nothing fades."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

from modeling.testing.fade import IN_A_ROW, SHARE

__all__ = ["chance_of_false_stop", "chance_of_low_effort", "own_noise_pct"]

FloatArray = NDArray[np.float64]

CELLS = 1_500
REACH_SD = 6.0
PRIOR_EFFORTS = 20.0
"""The squad's noise counts as much as this many efforts in the estimate of an athlete's own (from
memory: noise differs between athletes by about a sixth, and a standard deviation from n efforts
is known to 1 / sqrt(2 n))."""
MAD_TO_SD = 1.4826


def chance_of_false_stop(
    noise_pct: float, efforts: int, *, share: float = SHARE, in_a_row: int = IN_A_ROW
) -> float:
    """Chance that the rule says stop within some efforts that differ by noise alone.

    Values are independent and normal around one level, with a standard deviation of `noise_pct`
    of it. The best so far and the number of low efforts in a row form a Markov chain. The best is
    cut into `CELLS` cells from -6 to +6 standard deviations; everything else is exact.

    Parameters
    ----------
    noise_pct : float
        Effort noise in %, above 0.
    efforts : int
        Efforts made.
    share, in_a_row
        The rule, as for `modeling.testing.fade.fade_state`.

    Raises
    ------
    ValueError
        The noise is not above 0.
    """
    if not noise_pct > 0:
        raise ValueError(f"The effort noise must be above 0 %. Got {noise_pct:g}.")
    if efforts < in_a_row:
        return 0.0
    sd = noise_pct / 100.0
    edges = np.linspace(-REACH_SD, REACH_SD, CELLS + 1)
    best = (edges[:-1] + edges[1:]) / 2.0
    cell = np.diff(norm.cdf(edges))
    chance_low = norm.cdf((share * (1.0 + sd * best) - 1.0) / sd)
    chance_at_most = norm.cdf(best)
    going = np.zeros((in_a_row, CELLS))
    going[0] = cell
    for _ in range(efforts - 1):
        going = _after_an_effort(going, cell, chance_low, chance_at_most)
    return float(np.clip(1.0 - going.sum() / cell.sum(), 0.0, 1.0))


def chance_of_low_effort(noise_pct: float, efforts: int, *, share: float = SHARE) -> float:
    """Chance that the last of some efforts is low by noise alone; see `chance_of_false_stop`."""
    if efforts < 2:
        return 0.0
    sd, edges = noise_pct / 100.0, np.linspace(-REACH_SD, REACH_SD, CELLS + 1)
    best = (edges[:-1] + edges[1:]) / 2.0
    of_best = np.diff(norm.cdf(edges) ** (efforts - 1))
    return float(of_best @ norm.cdf((share * (1.0 + sd * best) - 1.0) / sd))


def _after_an_effort(
    going: FloatArray, cell: FloatArray, chance_low: FloatArray, chance_at_most: FloatArray
) -> FloatArray:
    """Move the chances of (low in a row, best) on by one effort, without tests that stop there."""
    after = np.empty_like(going)
    after[1:] = going[:-1] * chance_low
    by_best = going.sum(axis=0)
    lower_best = np.cumsum(by_best) - by_best
    # The best is at the middle of its cell, so half of the cell lies above it.
    after[0] = by_best * (chance_at_most + 0.5 * cell - chance_low) + cell * lower_best
    return after


def own_noise_pct(residuals_pct: ArrayLike, sessions: int, squad_noise_pct: float) -> float:
    """Estimate an athlete's own effort noise in %, shrunk towards the squad's if efforts are few.

    Parameters
    ----------
    residuals_pct : array-like of shape (n_efforts,)
        Efforts less what the athlete's curve expects on that day, in %. Their size is taken from
        the median, so single slips do not count.
    sessions : int
        Sessions behind them: each has its own level, which takes one degree of freedom.
    squad_noise_pct : float
        Noise of a single effort, learned from the squad.
    """
    own = np.abs(np.asarray(residuals_pct, dtype=float))
    free = max(len(own) - sessions, 0)
    if not free:
        return squad_noise_pct
    own_variance = (MAD_TO_SD * float(np.median(own))) ** 2 * len(own) / free
    pooled = PRIOR_EFFORTS * squad_noise_pct**2 + free * own_variance
    return float(np.sqrt(pooled / (PRIOR_EFFORTS + free)))
