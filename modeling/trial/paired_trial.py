"""A trial within one athlete: two lengths in random order, block by block, and which was better.

Each block holds both lengths once, in random order, so form, weather and season affect both alike.
The differences within blocks are compared with 0 in two ways: by an interval from Student's t, and
by a randomisation test. The test asks in how many of the possible orders the difference would have
been as large. It assumes nothing but the random order.

References
----------
Fisher (1935), The Design of Experiments, sections 17 and 21: the worked example in the tests.
Senn (2002), Cross-over Trials in Clinical Research, on series of pairs within one patient.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr, stdtrit

from modeling.errors import ModelError
from modeling.estimate import Estimate

__all__ = ["FEWEST_BLOCKS", "TrialResult", "draw_order", "trial_result"]

FEWEST_BLOCKS = 2
"""Fewest differences for an interval."""

ALL_ORDERS_UP_TO = 16
"""Up to this many blocks every possible order is tried."""

DRAWN_ORDERS = 50_000

INTERVAL = 0.90


@dataclass(frozen=True)
class TrialResult:
    """Result of the complete blocks.

    Attributes
    ----------
    blocks : int
        Number of complete blocks.
    difference_pct : Estimate
        Second length against the first, in % (above 0: the second is better): the mean with its
        90 % interval.
    chance_second : float
        Chance that the second is better, from the same t distribution with a flat prior.
    share_as_large : float
        Share of the possible orders in which the mean difference would have been as large in
        either direction (two-sided).
    smallest_share : float
        Smallest possible value of that share with as many blocks: 2 in 16 with 4 blocks.
    """

    blocks: int
    difference_pct: Estimate
    chance_second: float
    share_as_large: float
    smallest_share: float


def draw_order(blocks: int, seed: int) -> NDArray[np.intp]:
    """Draw the order of the lengths: array of shape (2 * blocks,), 0 or 1.

    The same seed gives the same order, so anybody can check that it was drawn and not chosen.
    """
    if blocks < FEWEST_BLOCKS:
        raise ModelError(f"A trial needs at least {FEWEST_BLOCKS} blocks. Got {blocks}.")
    first = np.random.default_rng(seed).integers(0, 2, blocks)
    return np.stack([first, 1 - first], axis=1).ravel()


def trial_result(
    first: ArrayLike, second: ArrayLike, higher_is_better: bool = True
) -> TrialResult | None:
    """Compare the lengths over the blocks in which both have a value.

    Parameters
    ----------
    first, second : array-like of shape (n_blocks,)
        Values after the first and the second length of each block, above 0; NaN is not known
        yet, and leaves the block out.
    higher_is_better : bool
        False for times.

    Returns
    -------
    TrialResult or None
        None with fewer than 2 complete blocks.

    Raises
    ------
    ModelError
        A value is 0 or less.
    """
    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    complete = ~(np.isnan(a) | np.isnan(b))
    a, b = a[complete], b[complete]
    if np.any(a <= 0) or np.any(b <= 0):
        raise ModelError("Values of a trial must be above 0.")
    if len(a) < FEWEST_BLOCKS:
        return None
    apart = np.log(b / a) if higher_is_better else np.log(a / b)
    blocks, mean = len(apart), float(apart.mean())
    error = float(apart.std(ddof=1) / np.sqrt(blocks))
    if error > 0:
        reach = float(stdtrit(blocks - 1, (1.0 + INTERVAL) / 2.0)) * error
        chance = float(stdtr(blocks - 1, mean / error))
    else:
        reach, chance = 0.0, float(np.heaviside(mean, 0.5))
    low, high = mean - reach, mean + reach
    return TrialResult(
        blocks=blocks,
        difference_pct=Estimate(*(float(100.0 * np.expm1(x)) for x in (mean, low, high))),
        chance_second=chance,
        share_as_large=share_as_large(apart),
        smallest_share=2.0 ** (1 - blocks),
    )


def share_as_large(apart: ArrayLike) -> float:
    """Share of sign patterns whose mean is at least as far from 0: the randomisation test.

    It tries all patterns for up to 16 differences. For more it draws 50,000 and adds the real one.
    """
    differences = np.asarray(apart, dtype=float)
    n = len(differences)
    if n <= ALL_ORDERS_UP_TO:
        signs = 1.0 - 2.0 * ((np.arange(2**n)[:, None] >> np.arange(n)) & 1)
        extra = 0
    else:
        signs = np.random.default_rng(n).choice([-1.0, 1.0], (DRAWN_ORDERS, n))
        extra = 1
    sums = np.abs(signs @ differences)
    observed = abs(float(differences.sum()))
    # Leave a little room, as equal sums differ by rounding.
    as_large = int(np.sum(sums >= observed - 1e-12 * max(observed, 1.0)))
    return (as_large + extra) / (len(signs) + extra)
