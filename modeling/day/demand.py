"""Fade against demand: what to expect at each of the efforts that a game asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.to_follow import ToFollow
from modeling.estimate import BAND, QUANTILES, Estimate, estimate, percent

__all__ = ["Demand", "fade_against_demand"]

FloatArray = NDArray[np.float64]

LOST_PCT = 10.0


@dataclass(frozen=True)
class Demand:
    """Expected performance over the efforts asked for.

    Attributes
    ----------
    effort : array of shape (n_efforts,)
        1, 2, 3 ...
    change_pct, change_pct_low, change_pct_high : arrays of shape (n_efforts,)
        Against the athlete's own peak, with the 90 % band.
    lost_at : Estimate
        The effort at which 10 % is lost; one more than asked for if that does not happen.
    chance_lost : float
        Chance that 10 % is lost within the efforts asked for.
    shortfall : int
        Efforts asked for from the expected loss of 10 % on: what to condition for; 0 is none.
    """

    effort: FloatArray
    change_pct: FloatArray
    change_pct_low: FloatArray
    change_pct_high: FloatArray
    lost_at: Estimate
    chance_lost: float
    shortfall: int


def fade_against_demand(
    curve: CurveDraws,
    efforts: int,
    done: float,
    around: Circumstances | None = None,
    recovery_seconds: float = 0.0,
) -> Demand:
    """Follow an athlete's curve through a game's efforts after a warm-up.

    Parameters
    ----------
    curve : CurveDraws
        An athlete's; one without data has the squad's.
    efforts : int
        How many the game asks for, 1 or more.
    done : float
        Volume of the warm-up.
    around : Circumstances, optional
        None is the squad's usual circumstances.
    recovery_seconds : float
        Between two efforts. Time beyond the rest in a test lets the athlete cool and, much faster,
        recover (`two_clocks`); 0 is the rest in a test, which no game has.
    """
    around = around or curve.usual
    pause = curve.pause_minutes(ToFollow("sustained", efforts, recovery_seconds=recovery_seconds))
    step = curve.account.stretch(around)
    followed = curve.clocks.before_each(curve.in_effect(done, around), efforts, step, pause)
    warm, tired = (np.array(part) for part in zip(*followed, strict=True))
    change = percent(curve.with_both(warm, tired))
    # Only a loss past the peak counts, not an effort still on the way up.
    lost = (tired > 0) & (change <= -LOST_PCT)
    first = np.where(lost.any(axis=0), lost.argmax(axis=0) + 1, efforts + 1)
    low, high = np.quantile(change, BAND, axis=1)
    lost_at = estimate(np.quantile(first, QUANTILES))
    return Demand(
        effort=np.arange(1.0, efforts + 1.0),
        change_pct=change.mean(axis=1),
        change_pct_low=low,
        change_pct_high=high,
        lost_at=lost_at,
        chance_lost=float(lost.any(axis=0).mean()),
        shortfall=max(0, efforts + 1 - int(np.ceil(lost_at.median))),
    )
