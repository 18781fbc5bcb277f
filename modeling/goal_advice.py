"""How much to do today: for a goal, the work to follow, the circumstances and the limits.

One rule serves all goals (design: speed, power and strength want the work to begin at the peak,
growth wants volume saved for the work): the volume whose expected mean performance over the
efforts to follow is highest, less a price per minute of warm-up. Expectation is over the
athlete's whole posterior, so that what is not known counts. Each effort of the work adds to the
volume in effect as a warm-up effort does.

For a best effort the work never begins below the worthwhile band of the peak, whatever the price.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.account import Circumstances
from modeling.advice import TIE_PCT
from modeling.curve_draws import CurveDraws
from modeling.errors import ModelError
from modeling.estimate import QUANTILES, Estimate, estimate, percent

__all__ = ["GOALS", "Advice", "Alternative", "Limits", "ToFollow", "advise"]

FloatArray = NDArray[np.float64]

GOALS = ("best", "sustained", "growth")
"""One best effort; efforts that all count; growth work, whose last sets count as its first."""

MOST_CANDIDATES = 400
"""Lengths that are weighed: whole ones, in wider steps where volumes are large."""

OTHER_SHARES = {"standard": 1.0, "a quarter less": 0.75, "a quarter more": 1.25, "none": 0.0}


@dataclass(frozen=True)
class ToFollow:
    """The work that the warm-up is for.

    Attributes
    ----------
    goal : {"best", "sustained", "growth"}
    efforts : int
        How many efforts follow and count.
    price_pct_per_minute : float
        What a minute of warm-up costs, in % of performance.
    minutes_per_effort : float
        How long one effort of the warm-up takes.
    """

    goal: str = "best"
    efforts: int = 1
    price_pct_per_minute: float = 0.0
    minutes_per_effort: float = 0.5

    def __post_init__(self) -> None:
        if self.goal not in GOALS:
            raise ModelError(f"The goal must be one of {', '.join(GOALS)}. Got {self.goal}.")
        if self.efforts < 1:
            raise ModelError(f"At least 1 effort must follow. Got {self.efforts}.")
        if not (self.price_pct_per_minute >= 0 and self.minutes_per_effort > 0):
            raise ModelError("A price must be 0 or more and an effort must take some time.")


@dataclass(frozen=True)
class Limits:
    """What the day allows; None is no limit.

    Attributes
    ----------
    volume : float or None
        Most volume to be done.
    minutes : float or None
        Time there is for the efforts of the warm-up.
    """

    volume: float | None = None
    minutes: float | None = None

    def most(self, minutes_per_effort: float) -> float:
        """Largest volume allowed."""
        by_time = np.inf if self.minutes is None else self.minutes / minutes_per_effort
        return min(by_time, np.inf if self.volume is None else self.volume)


@dataclass(frozen=True)
class Alternative:
    """Another volume, and what it gives away against the advised one, in % of performance."""

    name: str
    volume: float
    loss_pct: Estimate


@dataclass(frozen=True)
class Advice:
    """What to do today.

    Attributes
    ----------
    athlete : object
    to_follow : ToFollow
    around : Circumstances
    volume : float
        What to do, in the measure's volume unit.
    volume_in_effect : float
        What that counts for.
    expected_pct : Estimate
        Mean performance over the work to follow, against the athlete's own peak.
    alternatives : tuple of Alternative
        The standard, a quarter less and more than advised, and none, but for repetitions.
    limited : bool
        Whether a limit kept the advice shorter than it would be.
    held_up : bool
        Whether the worthwhile band of the peak kept it longer than the price would have it.
    reason : str
        One sentence.
    sessions : int
        Sessions behind it; 0 is the squad's advice.
    """

    athlete: object
    to_follow: ToFollow
    around: Circumstances
    volume: float
    volume_in_effect: float
    expected_pct: Estimate
    alternatives: tuple[Alternative, ...]
    limited: bool
    held_up: bool
    reason: str
    sessions: int


def advise(
    curve: CurveDraws,
    to_follow: ToFollow | None = None,
    around: Circumstances | None = None,
    limits: Limits | None = None,
) -> Advice:
    """Work out what to do.

    Parameters
    ----------
    curve : CurveDraws
        An athlete's; one without data has the squad's.
    to_follow : ToFollow, optional
        None is one best effort.
    around : Circumstances, optional
        None is the squad's usual circumstances.
    limits : Limits, optional
    """
    to_follow, limits = to_follow or ToFollow(), limits or Limits()
    around = around or curve.usual
    volume = _candidates(curve, around)
    counted = curve.account.volume_in_effect(volume, around)
    mean = curve.mean_pct(counted, to_follow.efforts, curve.account.stretch(around))
    net = mean.mean(axis=1) - to_follow.price_pct_per_minute * to_follow.minutes_per_effort * volume
    wanted = _first_best(net)
    lowest = 0
    if to_follow.goal == "best":
        expected = percent(curve.at(counted)).mean(axis=1)
        lowest = int(np.argmax(expected >= expected.max() - curve.worthwhile_pct))
    held_up = wanted < lowest
    wanted = max(wanted, lowest)
    allowed = int(np.searchsorted(volume, limits.most(to_follow.minutes_per_effort), "right")) - 1
    chosen = min(wanted, max(allowed, 0))
    return Advice(
        athlete=curve.athlete,
        to_follow=to_follow,
        around=around,
        volume=float(volume[chosen]),
        volume_in_effect=float(counted[chosen]),
        expected_pct=estimate(np.quantile(mean[chosen], QUANTILES)),
        alternatives=_alternatives(curve, volume, mean, chosen),
        limited=chosen < wanted,
        held_up=held_up,
        reason=_reason(to_follow, chosen < wanted, held_up, curve.sessions),
        sessions=curve.sessions,
    )


def _candidates(curve: CurveDraws, around: Circumstances) -> FloatArray:
    """Whole volumes from none to what reaches the end of the curves, and the standard."""
    end = float(curve.account.volume_to_do(curve.volume[-1:], around)[0])
    step = max(1.0, np.ceil(end / MOST_CANDIDATES))
    whole = np.arange(0.0, max(end, 1.0) + step, step)
    return np.unique(np.append(whole, np.round(curve.standard_volume)))


def _first_best(net: FloatArray) -> int:
    return int(np.argmax(net >= net.max() - TIE_PCT))


def _alternatives(
    curve: CurveDraws, volume: FloatArray, mean: FloatArray, chosen: int
) -> tuple[Alternative, ...]:
    others: list[Alternative] = []
    for name, share in OTHER_SHARES.items():
        of = curve.standard_volume if name == "standard" else float(volume[chosen])
        place = int(np.argmin(np.abs(volume - np.round(share * of))))
        told = {float(volume[chosen]), *(other.volume for other in others[1:])}
        if name != "standard" and float(volume[place]) in told:
            continue
        loss = estimate(np.quantile(mean[chosen] - mean[place], QUANTILES))
        others.append(Alternative(name, float(volume[place]), loss))
    return tuple(others)


def _reason(to_follow: ToFollow, limited: bool, held_up: bool, sessions: int) -> str:
    whose = "Nobody knows this athlete's own curve yet; the squad's" if sessions == 0 else "The"
    if limited:
        return f"{whose} curve asks for more, but the day's limit ends it here."
    if held_up:
        return (
            f"{whose} curve would let it be shorter for the time it takes, but a best effort "
            "begins within the worthwhile band of the peak."
        )
    if to_follow.goal == "best" and to_follow.efforts == 1:
        return f"{whose} curve is expected to be highest here."
    return (
        f"{whose} curve's mean over the {to_follow.efforts} efforts that follow is expected to be "
        "highest when the work begins here."
    )
