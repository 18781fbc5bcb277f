"""What the model expects from a trial of two lengths, and how many blocks would show it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from modeling.curve.curve_draws import CurveDraws
from modeling.errors import ModelError
from modeling.estimate import BAND, Estimate, percent
from modeling.trial.paired_trial import FEWEST_BLOCKS, INTERVAL

__all__ = ["ExpectedDifference", "blocks_needed", "expected_difference", "interval_reach_pct"]


@dataclass(frozen=True)
class ExpectedDifference:
    """What an athlete's curve says about the second length against the first.

    Attributes
    ----------
    difference_pct : Estimate
        In %; above 0 the second is better.
    chance_second : float
        Chance that the second is better.
    sessions : int
        Number of the athlete's sessions behind the curve; 0 for the squad's distribution.
    """

    difference_pct: Estimate
    chance_second: float
    sessions: int


def expected_difference(curve: CurveDraws, first: float, second: float) -> ExpectedDifference:
    """Compare two lengths, as done in the usual circumstances, over an athlete's curves."""
    in_effect = curve.account.volume_in_effect(np.array([first, second]), curve.usual)
    at_first, at_second = curve.at(in_effect)
    apart = percent(at_second - at_first)
    low, high = np.quantile(apart, BAND)
    return ExpectedDifference(
        difference_pct=Estimate(float(np.median(apart)), float(low), float(high)),
        chance_second=float(np.mean(apart > 0)),
        sessions=curve.sessions,
    )


def interval_reach_pct(noise_pct: float, blocks: int) -> float:
    """Half the width that a trial's 90 % interval will have, in %.

    Parameters
    ----------
    noise_pct : float
        Standard deviation, in %, of one start value on one day about what the curve expects.
    blocks : int
        Number of blocks, 2 or more.
    """
    if blocks < FEWEST_BLOCKS:
        raise ModelError(f"A trial needs at least {FEWEST_BLOCKS} blocks. Got {blocks}.")
    quantile = float(stdtrit(blocks - 1, (1.0 + INTERVAL) / 2.0))
    # A block's difference has the noise of two sessions.
    return quantile * noise_pct * float(np.sqrt(2.0 / blocks))


def blocks_needed(difference_pct: float, noise_pct: float, most: int) -> int | None:
    """Fewest blocks whose interval around a difference leaves out 0; None if more than `most`."""
    for blocks in range(FEWEST_BLOCKS, most + 1):
        if interval_reach_pct(noise_pct, blocks) <= abs(difference_pct):
            return blocks
    return None
