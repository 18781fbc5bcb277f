"""Sessions in another unit, under another athlete's name, or too far off.

A unit or an exchange shows in a likelihood ratio: how many times likelier the sessions' levels are
after the correction. If the data are correct, its logarithm for a shift of d spreads is
d Z - d^2 / 2 with Z standard normal. It exceeds g where Z exceeds g / d + d / 2, which is at least
sqrt(2 g) for any d. So the chance is at most that of a standard normal value beyond sqrt(2 g).
Times the number of comparisons, it bounds the number of such findings to expect in correct data.
The likelihoods here are those of t distributions, which give less weight to values far off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from modeling.checks.robust_scales import median_scale
from modeling.checks.session_levels import SessionLevels, medians_of_others

__all__ = [
    "FACTORS",
    "SessionFault",
    "athletes_in_another_unit",
    "nearest_factor",
    "sessions_apart",
    "sessions_in_another_unit",
    "swapped_sessions",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
CurveAt = Callable[[int, FloatArray], FloatArray]
"""Gives an athlete's (by place) mean curve at some volumes."""

FACTORS = (100.0, 10.0, 3.6, 3.28084, 2.54, 2.236936)
"""Centimetres in a metre, a slipped decimal point, km/h, feet in a metre, centimetres in an
inch, and miles per hour in a m/s; and the reverse of each."""

FALSE_SHARE = 0.02
"""Largest chance that correct data show a finding of a kind."""

JUMP_CHANCE = 1.0 / 4000.0
NEAR = 4.0
"""A factor explains differences within this many spreads of it."""

CURVE_SPREAD = 0.05
"""How far off the curve may be at a session in another unit, on the log scale."""

OWN_SHARE = 0.6

SUSPECT = 2.5
"""Only sessions more than this many spreads off are tried under another athlete's name."""

FEWEST_ATHLETES = 5
LEAST_LEVEL_SPREAD = 0.1


@dataclass(frozen=True)
class SessionFault:
    """A fault in one session, in several of one athlete, or in one each of two athletes.

    Attributes
    ----------
    sessions : tuple of int
        Places of the sessions.
    apart : float
        Difference of the first session from what is expected, on the transformed scale.
    chance : float
        How many such findings to expect in correct data, at most 1.
    factor : float or None
        What values seem to be multiplied by; for an exchange, how many times likelier it is.
    """

    sessions: tuple[int, ...]
    apart: float
    chance: float
    factor: float | None = None


def nearest_factor(apart: float, spread: float, sign: float) -> float | None:
    """Return the unit factor that explains a difference, if one does.

    Parameters
    ----------
    apart, spread : float
        Difference on the transformed scale, and its standard deviation.
    sign : float
        1 where larger values are better, -1 where smaller ones are.
    """
    off = {factor: abs(sign * apart - np.log(factor)) for factor in _both_ways()}
    nearest = min(off, key=lambda factor: off[factor])
    return nearest if off[nearest] <= NEAR * spread else None


def sessions_in_another_unit(levels: SessionLevels, sign: float) -> list[SessionFault]:
    """Find sessions in another unit than their athlete's other sessions.

    Such a session bends its athlete's own curve. So levels are also tried with the squad's curve,
    and a spread of 5 % is added to all.
    """
    factors = np.array(_both_ways())
    shift, at = sign * np.log(factors), np.arange(levels.sessions)
    plain = np.split(levels.plain_level, np.flatnonzero(np.diff(levels.session_owner)) + 1)
    by_squad = np.concatenate([own - medians_of_others(own) for own in plain])
    apart = np.stack([levels.apart, by_squad])
    spread = np.sqrt(levels.variance + CURVE_SPREAD**2)
    left = (apart[:, :, None] - shift) / spread[:, None]
    gain = levels.tail.log_density(left) - levels.tail.log_density(apart / spread)[:, :, None]
    curve, best = np.unravel_index(
        gain.transpose(1, 0, 2).reshape(levels.sessions, -1).argmax(axis=1), (2, len(factors))
    )
    chance = _chance(apart.size * len(factors), gain[curve, at, best])
    near = np.abs(left[curve, at, best]) <= NEAR
    # The own curve must show most of the difference too: the squad's need not fit at its ends.
    own_too = levels.apart / shift[best] > OWN_SHARE
    found = (chance <= FALSE_SHARE) & near & own_too & (levels.others > 0)
    return [
        SessionFault(
            (int(s),), float(apart[curve[s], s]), float(chance[s]), float(factors[best[s]])
        )
        for s in np.flatnonzero(found)
        if not _is_the_usual_one_of_two(levels, int(s))
    ]


def athletes_in_another_unit(levels: SessionLevels, sign: float) -> list[SessionFault]:
    """Find athletes all of whose sessions are in another unit than the squad's.

    Levels are taken as normal across athletes, with a robust spread of at least 10 %. With fewer
    than five athletes there are no findings.
    """
    owners = np.unique(levels.session_owner)
    if len(owners) < FEWEST_ATHLETES:
        return []
    level = np.array([np.median(levels.level[levels.session_owner == a]) for a in owners])
    apart = level - levels.squad_level
    spread = max(median_scale(apart), LEAST_LEVEL_SPREAD)
    comparisons = len(owners) * len(_both_ways())
    found = []
    for a in owners[np.abs(apart) > NEAR * spread]:
        factor = nearest_factor(float(apart[a]), spread, sign)
        if factor is None:
            continue
        left = apart[a] - sign * np.log(factor)
        gain = norm.logpdf(left / spread) - norm.logpdf(apart[a] / spread)
        chance = float(_chance(comparisons, gain))
        if chance <= FALSE_SHARE:
            own = tuple(np.flatnonzero(levels.session_owner == a).tolist())
            found.append(SessionFault(own, float(apart[a]), chance, factor))
    return found


def sessions_apart(levels: SessionLevels) -> list[SessionFault]:
    """Find sessions that are further from their athlete's others than any day explains.

    Sessions of a single effort are left out: that effort is checked by itself.
    """
    chance = levels.tail.chance(levels.z)
    several = np.bincount(levels.session, minlength=levels.sessions) > 1
    found = np.flatnonzero((chance <= JUMP_CHANCE) & several & (levels.others > 0))
    return [
        SessionFault(
            (int(s),), float(levels.apart[s]), min(float(chance[s]) * levels.sessions, 1.0)
        )
        for s in found
        if not _is_the_usual_one_of_two(levels, int(s))
    ]


def swapped_sessions(levels: SessionLevels, curve_at: CurveAt) -> list[SessionFault]:
    """Find pairs of sessions on one calendar day that fit far better when exchanged."""
    day = np.floor(levels.day).astype(int)
    pairs = _pairs_of_a_day(day, levels.session_owner)
    suspect = np.flatnonzero((np.abs(levels.z) > SUSPECT) & (levels.others > 0))
    gains = {
        (a, b): _gain_of_exchange(levels, a, b, curve_at)
        for a, b in combinations(suspect.tolist(), 2)
        if day[a] == day[b] and levels.session_owner[a] != levels.session_owner[b]
    }
    found: list[SessionFault] = []
    taken: set[int] = set()
    for pair in sorted(gains, key=lambda pair: -gains[pair]):
        chance = float(_chance(pairs, gains[pair]))
        if chance <= FALSE_SHARE and not taken & set(pair):
            taken |= set(pair)
            times = float(np.exp(min(gains[pair], 100.0)))
            found.append(SessionFault(pair, float(levels.apart[pair[0]]), chance, times))
    return found


def _both_ways() -> list[float]:
    return [*FACTORS, *(1.0 / factor for factor in FACTORS)]


def _chance(comparisons: int, gain: FloatArray | float) -> FloatArray:
    """Bound on how many log ratios as large as these to expect in correct data, at most 1."""
    each = norm.sf(np.sqrt(2.0 * np.clip(gain, 0.0, None)))
    return np.asarray(np.minimum(comparisons * each, 1.0))


def _is_the_usual_one_of_two(levels: SessionLevels, s: int) -> bool:
    """Whether it is the one of an athlete's only two that is nearer to the squad's level."""
    own = np.flatnonzero(levels.session_owner == levels.session_owner[s])
    if len(own) != 2:
        return False
    off = np.abs(levels.level[own] - levels.squad_level)
    return bool(own[off.argmin()] == s)


def _pairs_of_a_day(day: IntArray, owner: IntArray) -> int:
    """How many pairs of sessions of different athletes share a calendar day."""
    _, of_day = np.unique(day, return_counts=True)
    _, of_both = np.unique(np.stack([day, owner]), axis=1, return_counts=True)
    return int((of_day**2).sum() - (of_both**2).sum()) // 2


def _gain_of_exchange(levels: SessionLevels, a: int, b: int, curve_at: CurveAt) -> float:
    """Log of how many times likelier two sessions are under each other's athlete."""
    exchanged = _under(levels, a, b, curve_at) + _under(levels, b, a, curve_at)
    return exchanged - _under(levels, a, a, curve_at) - _under(levels, b, b, curve_at)


def _under(levels: SessionLevels, s: int, like: int, curve_at: CurveAt) -> float:
    """Log likelihood of a session as if another session's athlete had done it."""
    efforts = levels.efforts_of([s])
    own, other = int(levels.session_owner[s]), int(levels.session_owner[like])
    volume, weight = levels.volume[efforts], levels.weight[efforts]
    residual = levels.residual[efforts] + curve_at(own, volume) - curve_at(other, volume)
    level = float(np.average(residual, weights=weight))
    spread = float(np.sqrt(levels.variance[like]))
    noise = levels.effort_noise[other]
    within = levels.tail.log_density((residual - level) / noise) - np.log(noise)
    between = levels.tail.log_density(np.array([(level - levels.reference[like]) / spread]))
    return float(between[0] - np.log(spread) + within.sum())
