"""Whether a warm-up costs the last of the sets that follow it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from modeling.account import Circumstances
from modeling.curve_draws import CurveDraws
from modeling.errors import ModelError
from modeling.estimate import QUANTILES, Estimate, estimate, percent
from modeling.goal_advice import ToFollow, advise

__all__ = ["FIRM", "LastSets", "last_sets"]

FIRM = 0.8


@dataclass(frozen=True)
class LastSets:
    """The last set after a warm-up, against the last set after the warm-up for growth work.

    Attributes
    ----------
    warm_up, advised : float
        What is planned, and what is advised when all sets count, in the measure's volume unit.
    sets : int
        Working sets of the session up to the last.
    cost_pct : Estimate
        Performance that the last set loses by the longer of the two, in %; below 0 is a gain.
    chance_costly : float
        Chance that it loses more than the smallest worthwhile change.
    sessions, efforts : int
        Counts behind the curve; 0 is the squad's.
    """

    warm_up: float
    advised: float
    sets: int
    cost_pct: Estimate
    chance_costly: float
    sessions: int
    efforts: int

    @property
    def costly(self) -> bool | None:
        """Whether the last sets pay for the warm-up; None when it is not known."""
        if self.chance_costly >= FIRM:
            return True
        return False if self.chance_costly <= 1.0 - FIRM else None


def last_sets(
    curve: CurveDraws, warm_up: float, sets: int, around: Circumstances | None = None
) -> LastSets:
    """Follow the curve to the last set, each set counting as one effort of the measure.

    Parameters
    ----------
    curve : CurveDraws
        The athlete's.
    warm_up : float
        Volume to do before the first set, 0 or more.
    sets : int
        How many sets follow, 1 or more.
    around : Circumstances, optional
        None is the squad's usual circumstances.

    Raises
    ------
    ModelError
        If the warm-up is below 0, or no set follows.
    """
    if not warm_up >= 0:
        raise ModelError(f"A warm-up has a volume of 0 or more. Got {warm_up:g}.")
    around = around or curve.usual
    advised = advise(curve, ToFollow("growth", sets), around).volume
    before = np.array([min(advised, warm_up), warm_up])
    counted = curve.account.volume_in_effect(before, around)
    ahead = (sets - 1) * curve.account.stretch(around)
    shorter, longer = percent(curve.at(counted + ahead))
    cost = shorter - longer
    return LastSets(
        warm_up=warm_up,
        advised=advised,
        sets=sets,
        cost_pct=estimate(np.quantile(cost, QUANTILES)),
        chance_costly=float((cost > curve.worthwhile_pct).mean()),
        sessions=curve.sessions,
        efforts=curve.efforts,
    )
