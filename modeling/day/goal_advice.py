"""How much to do on a day: the length for a goal, in the day's circumstances, and what is lost.

A curve asks for the volume with the highest expected mean performance over the efforts to follow,
minus a price per minute of warm-up (design: speed, power and strength want the work to begin at the
peak, growth wants volume saved for the work). The expectation is over the athlete's whole
posterior, so what is not known yet counts. Each effort of the work adds to the volume in effect as
a warm-up effort does. For a best effort the work never begins below the worthwhile band of the
peak, whatever the price. The rule of `length` says how much of that is done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import Circumstances
from modeling.curve.advice import TIE_PCT
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.length import Day, Length, Needs, length
from modeling.curve.to_follow import GOALS, ToFollow
from modeling.curve.two_clocks import InEffect
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent

__all__ = [
    "GOALS",
    "Advice",
    "Alternative",
    "ToFollow",
    "advise",
    "asked_for",
    "length_of",
    "losses",
    "whole_volumes",
]

FloatArray = NDArray[np.float64]

MOST_CANDIDATES = 400
"""Most lengths that are compared: whole ones, in wider steps if volumes are large."""

SMALL_VOLUME, FURTHER = 10.0, 20
"""If comparing takes long: all whole lengths up to the first, and so many beyond."""

OTHER_SHARES = {"a quarter less": 0.75, "a quarter more": 1.25, "none": 0.0}


@dataclass(frozen=True)
class Alternative:
    """Another volume, and what is lost against the athlete's own best, in % of performance."""

    name: str
    volume: float
    lost_pct: Estimate


@dataclass(frozen=True)
class Advice:
    """What to do on a day.

    Attributes
    ----------
    athlete : object
    to_follow : ToFollow
    around : Circumstances
    volume : float
        What to do, in the measure's volume unit.
    length : Length
        The same with what decides it, a top-up after a long wait, and what limits it.
    volume_in_effect : float
        What it counts for, with the top-up.
    expected_pct : Estimate
        Mean performance over the work to follow, against the athlete's own peak.
    lost_pct : Estimate
        What is lost: for one best effort against the athlete's peak, for more against their best
        length.
    alternatives : tuple of Alternative
        The standard, a quarter less and more than advised, and none, each volume once.
    call : {"short", "long", "either", "not known"}
    good_range : tuple of float or None
        As done on a usual day.
    sessions : int
        Sessions behind it; 0 is the squad's advice.
    """

    athlete: object
    to_follow: ToFollow
    around: Circumstances
    volume: float
    length: Length
    volume_in_effect: float
    expected_pct: Estimate
    lost_pct: Estimate
    alternatives: tuple[Alternative, ...]
    call: str
    good_range: tuple[float, float] | None
    sessions: int


def asked_for(
    curve: CurveDraws, to_follow: ToFollow | None = None, around: Circumstances | None = None
) -> float:
    """Give the volume that the curve asks for, whatever the call and the limits.

    Parameters
    ----------
    curve : CurveDraws
        An athlete's; one without data has the squad's.
    to_follow : ToFollow, optional
        None is one best effort.
    around : Circumstances, optional
        None is the squad's usual circumstances.
    """
    to_follow, around = to_follow or ToFollow(), around or curve.usual
    volume = _candidates(curve, around, to_follow)
    counted = curve.in_effect(volume, around)
    mean = curve.mean_over(counted, to_follow, curve.account.stretch(around))
    price = to_follow.price_pct_per_minute * to_follow.minutes_per_effort
    wanted = _first_best(mean.mean(axis=1) - price * volume)
    if to_follow.goal == "best":
        expected = percent(curve.after(counted)).mean(axis=1)
        wanted = max(wanted, int(np.argmax(expected >= expected.max() - curve.worthwhile_pct)))
    return float(volume[wanted])


def length_of(
    curve: CurveDraws,
    to_follow: ToFollow | None = None,
    around: Circumstances | None = None,
    limit: float | None = None,
) -> Length:
    """Say how much an athlete does for a goal; `limit` is the day's own.

    The length for one best effort is also that for other work, unless more than the smallest
    worthwhile change is lost there. A price per minute always counts.
    """
    to_follow, needs, limits = to_follow or ToFollow(), curve.needs, curve.limits
    if to_follow.efforts > 1 or to_follow.price_pct_per_minute:
        asked = replace(needs, advised_volume=asked_for(curve, to_follow))
        if to_follow.price_pct_per_minute or _loses_more(curve, to_follow, needs, asked):
            needs = asked
    if limit is not None:
        limits = replace(limits, most_allowed=min(limit, limits.most_allowed))
    day = Day(curve.account, curve.usual, around) if around else None
    return length(needs, limits, day)


def advise(
    curve: CurveDraws,
    to_follow: ToFollow | None = None,
    around: Circumstances | None = None,
    limit: float | None = None,
) -> Advice:
    """Work out what to do, and what is lost at that and at other lengths.

    Parameters
    ----------
    curve, to_follow, around
        As for `asked_for`.
    limit : float, optional
        The most that the day allows.
    """
    to_follow, around = to_follow or ToFollow(), around or curve.usual
    chosen = length_of(curve, to_follow, around, limit)
    most = min(curve.limits.most, inf if limit is None else limit)
    others = _others(curve.standard_volume, chosen.volume, most)
    volumes = np.array([chosen.volume, *(volume for _, volume in others)])
    top_ups = np.array([chosen.top_up, *(0.0 for _ in others)])
    counted = curve.in_effect(volumes, around, top_ups)
    step = curve.account.stretch(around)
    lost, *others_lost = losses(curve, counted, to_follow, around)
    return Advice(
        athlete=curve.athlete,
        to_follow=to_follow,
        around=around,
        volume=chosen.volume,
        length=chosen,
        volume_in_effect=float(curve.account.volume_in_effect(np.array(chosen.volume), around))
        + step * chosen.top_up,
        expected_pct=estimate(drawn_quantiles(curve.mean_over(counted, to_follow, step)[0])),
        lost_pct=lost,
        alternatives=tuple(
            Alternative(name, volume, lost)
            for (name, volume), lost in zip(others, others_lost, strict=True)
        ),
        call=curve.needs.call,
        good_range=curve.needs.good_range,
        sessions=curve.sessions,
    )


def losses(
    curve: CurveDraws, counted: InEffect, to_follow: ToFollow, around: Circumstances
) -> list[Estimate]:
    """Say what is lost at each of some volumes, in %.

    One best effort is compared with the athlete's own peak. Several efforts cannot all be at it, so
    they are compared with the athlete's own best length.

    Parameters
    ----------
    curve, to_follow, around
        As for `asked_for`.
    counted : InEffect
        The volumes in effect, of shape (n,).
    """
    step = curve.account.stretch(around)
    best: FloatArray | float = 0.0
    if to_follow.efforts > 1:
        every = curve.in_effect(_candidates(curve, around, to_follow), around)
        best = curve.mean_over(every, to_follow, step).max(axis=0)
    mean = curve.mean_over(counted, to_follow, step)
    # Best lengths are looked for in whole steps only, so a loss could come out below 0.
    return [estimate(drawn_quantiles(np.maximum(best - each, 0.0))) for each in mean]


def _loses_more(curve: CurveDraws, work: ToFollow, needs: Needs, asked: Needs) -> bool:
    """Tell whether more than is worthwhile is lost against the length that the work asks for."""
    counted = curve.in_effect(np.array([needs.usual, asked.usual]), curve.usual)
    mean = curve.mean_over(counted, work, curve.account.stretch(curve.usual)).mean(axis=1)
    return bool(mean[1] - mean[0] > curve.worthwhile_pct)


def _candidates(curve: CurveDraws, around: Circumstances, work: ToFollow) -> FloatArray:
    """Whole volumes from none to what reaches the end of the curves, and the standard."""
    end = float(curve.account.volume_to_do(curve.volume[-1:], around)[0])
    whole = whole_volumes(end, curve.pause_minutes(work) > 0)
    return np.unique(np.append(whole, np.round(curve.standard_volume)))


def whole_volumes(end: float, few: bool) -> FloatArray:
    """Whole volumes from none to an end, or only a few of the large ones."""
    if few and end > SMALL_VOLUME:
        far = np.round(np.geomspace(SMALL_VOLUME, end, FURTHER))
        return np.unique(np.append(np.arange(SMALL_VOLUME), far))
    step = max(1.0, np.ceil(end / MOST_CANDIDATES))
    return np.arange(0.0, max(end, 1.0) + step, step)


def _first_best(net: FloatArray) -> int:
    return int(np.argmax(net >= net.max() - TIE_PCT))


def _others(standard: float, chosen: float, most: float) -> list[tuple[str, float]]:
    """Name the volumes to compare with a length, each once, and none above `most`.

    The standard is always there, whatever is allowed: it is what the team does today.
    """
    others = [("standard", standard)]
    told = {chosen, standard}
    for name, share in OTHER_SHARES.items():
        volume = float(np.round(share * chosen))
        if volume not in told and (share < 1.0 or volume <= most):
            others.append((name, volume))
            told.add(volume)
    return others
