"""Every session's level and every effort, compared with the athlete's other data.

A session's level is the mean of its efforts less the athlete's curve, with little weight for
efforts far from the others. Each session is compared with the median of its athlete's other levels
(or with the squad's, if there are no others). Each effort is compared with the other efforts of its
session and that median together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from modeling.checks.leave_out import Evidence
from modeling.checks.own_levels import TAIL_DF, own_levels
from modeling.checks.robust_scales import CoreTail, core_tail, median_scale, own_scales
from modeling.efforts.session_model import NoiseSizes

__all__ = [
    "EffortsApart",
    "SessionLevels",
    "efforts_apart",
    "medians_of_others",
    "session_levels",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

LEAST_DAY_NOISE = 0.003
FEWEST_TAIL_DF = 5.0
"""Session tails are never taken to be wider, as whole sessions in another unit widen them."""

MEDIAN_VARIANCE = np.pi / 2.0
"""Ratio of a median's variance to a mean's, for normal noise (Kendall & Stuart)."""


@dataclass(frozen=True)
class SessionLevels:
    """All efforts and sessions of a squad side by side, on the transformed scale.

    Attributes
    ----------
    row, owner, session : arrays of shape (n_efforts,)
        Place in the table, athlete and session of each effort, from 0.
    residual, curve_variance : arrays of shape (n_efforts,)
        Value less curve, and the variance of the curve relative to its session's level.
    volume, done : arrays of shape (n_efforts,)
        Volume before each effort: in effect, where curves are read, and as done.
    weight : array of shape (n_efforts,)
        How much each effort counts for its session's level, 0 to 1.
    effort_noise : array of shape (n_athletes,)
        Each athlete's own noise of an effort.
    day_noise : array of shape (n_athletes,)
        Each athlete's own noise between sessions.
    session_owner, day, level, level_variance : arrays of shape (n_sessions,)
        Number of the athlete, time in days, level, and its variance without the day's.
    plain_level : array of shape (n_sessions,)
        Level by the squad's curve, which a session in another unit has not bent.
    reference, variance : arrays of shape (n_sessions,)
        Level according to the other sessions, and the variance of the difference.
    squad_level : float
        Median of the athletes' levels.
    tail : CoreTail
        Tails of the differences in units of their spread.
    """

    row: IntArray
    owner: IntArray
    session: IntArray
    residual: FloatArray
    curve_variance: FloatArray
    volume: FloatArray
    done: FloatArray
    weight: FloatArray
    effort_noise: FloatArray
    day_noise: FloatArray
    session_owner: IntArray
    day: FloatArray
    level: FloatArray
    level_variance: FloatArray
    plain_level: FloatArray
    reference: FloatArray
    variance: FloatArray
    squad_level: float
    tail: CoreTail

    @property
    def sessions(self) -> int:
        """Number of sessions."""
        return len(self.level)

    @property
    def apart(self) -> FloatArray:
        """Level less the reference from the other sessions, shape (n_sessions,)."""
        return self.level - self.reference

    @property
    def z(self) -> FloatArray:
        """`apart` in units of its spread, shape (n_sessions,)."""
        return np.asarray(self.apart / np.sqrt(self.variance))

    @property
    def others(self) -> IntArray:
        """Number of other sessions that each session's athlete has, shape (n_sessions,)."""
        return np.asarray(np.bincount(self.session_owner)[self.session_owner] - 1)

    def efforts_of(self, sessions: Sequence[int] | IntArray) -> IntArray:
        """Return the places of the efforts of some sessions."""
        return np.flatnonzero(np.isin(self.session, sessions))

    def shifted(self, shift: FloatArray) -> SessionLevels:
        """Return the same with a known shift taken off every session's level."""
        residual = self.residual - shift[self.session]
        return _compared(replace(self, residual=residual, level=self.level - shift))


@dataclass(frozen=True)
class EffortsApart:
    """Every effort compared with the others of its session and its athlete's other sessions.

    Attributes
    ----------
    apart : array of shape (n_efforts,)
        Difference on the transformed scale.
    z : array of shape (n_efforts,)
        The difference in units of its spread, with the athlete's own noise.
    tail : CoreTail
        Tails of `z`.
    """

    apart: FloatArray
    z: FloatArray
    tail: CoreTail


def session_levels(known: Sequence[Evidence], sizes: NoiseSizes) -> SessionLevels:
    """Work out the levels of all sessions, and the athletes' own noise.

    Parameters
    ----------
    known : sequence of Evidence
        Every athlete's efforts, compared with sampled curves.
    sizes : NoiseSizes
        The squad's noise: athletes' own effort noise starts from it, and curves may be off by
        their misfit.
    """
    effort_noise = sizes.effort
    parts = [own_levels(one, sizes) for one in known]
    first = np.concatenate([[0], np.cumsum([len(one.rows.sessions) for one in known])])
    owner = np.concatenate([np.full(one.rows.efforts, a) for a, one in enumerate(known)])
    levels = SessionLevels(
        row=np.concatenate([one.rows.row for one in known]),
        owner=owner,
        session=np.concatenate([one.rows.session_index + first[a] for a, one in enumerate(known)]),
        residual=np.concatenate([part.residual for part in parts]),
        curve_variance=np.concatenate([part.curve_variance for part in parts]),
        volume=np.concatenate([one.rows.volume for one in known]),
        done=np.concatenate([one.rows.work.before + one.rows.work.since for one in known]),
        weight=np.concatenate([part.weight for part in parts]),
        effort_noise=np.full(len(known), effort_noise),
        day_noise=np.full(len(known), LEAST_DAY_NOISE),
        session_owner=np.concatenate(
            [np.full(len(one.rows.sessions), a) for a, one in enumerate(known)]
        ),
        day=np.concatenate([one.rows.day for one in known]),
        level=np.concatenate([part.level for part in parts]),
        level_variance=np.concatenate([part.level_variance for part in parts]),
        plain_level=np.concatenate([part.plain_level for part in parts]),
        reference=np.zeros(first[-1]),
        variance=np.ones(first[-1]),
        squad_level=0.0,
        tail=CoreTail(20.0, 1.0),
    )
    levels = _compared(levels)
    noise = effort_noise * own_scales(_predicted(levels)[1], owner, len(known))
    level_variance = levels.level_variance * (noise[levels.session_owner] / effort_noise) ** 2
    return _compared(replace(levels, effort_noise=noise, level_variance=level_variance))


def efforts_apart(levels: SessionLevels) -> EffortsApart:
    """Compare every effort with everything else that is known about it."""
    apart, z = _predicted(levels)
    return EffortsApart(apart, z, core_tail(z))


def _compared(levels: SessionLevels) -> SessionLevels:
    """Compare every level with the athlete's others; learn day noise and tails from all."""
    owner, level = levels.session_owner, levels.level
    reference, typical = np.empty(levels.sessions), np.empty(levels.sessions)
    medians = []
    for own in np.split(np.arange(levels.sessions), np.flatnonzero(np.diff(owner)) + 1):
        medians.append(float(np.median(level[own])))
        reference[own] = medians_of_others(level[own])
        typical[own] = np.median(levels.level_variance[own])
    alone = levels.others == 0
    reference[alone] = np.median(medians)
    spread = median_scale(np.array(medians) - np.median(medians)) if len(medians) > 1 else 1.0
    between = max(spread, 0.1) ** 2
    share = MEDIAN_VARIANCE / np.maximum(levels.others, 1)
    apart = level - reference

    def variance(day_noise: FloatArray | float) -> FloatArray:
        own = levels.level_variance + day_noise**2
        return np.where(alone, own + between, own + share * (typical + day_noise**2))

    def excess(log_noise: float) -> float:
        return median_scale((apart / np.sqrt(variance(np.exp(log_noise))))[~alone]) - 1.0

    noise = np.full(len(medians), LEAST_DAY_NOISE)
    if (~alone).any():
        ends = np.log(LEAST_DAY_NOISE), 0.0
        if excess(ends[0]) > 0.0 > excess(ends[1]):
            noise[:] = np.exp(brentq(excess, *ends, xtol=1e-3))
        z = apart / np.sqrt(variance(noise[owner]))
        noise *= own_scales(z[~alone], owner[~alone], len(medians))
    final = variance(noise[owner])
    tail = core_tail((apart / np.sqrt(final))[~alone]) if (~alone).any() else CoreTail(20.0, 1.0)
    return replace(
        levels,
        day_noise=noise,
        reference=reference,
        variance=final,
        squad_level=float(np.median(medians)),
        tail=CoreTail(max(tail.df, FEWEST_TAIL_DF), tail.scale),
    )


def medians_of_others(level: FloatArray) -> FloatArray:
    """Return for each level the median of all others; a single level is returned as it is."""
    if len(level) == 1:
        return level
    without = np.broadcast_to(level, (len(level), len(level)))
    others = without[~np.eye(len(level), dtype=bool)].reshape(len(level), -1)
    return np.asarray(np.median(others, axis=1))


def _predicted(levels: SessionLevels) -> tuple[FloatArray, FloatArray]:
    """Difference of every effort from its prediction, plain and in units of its spread."""
    s, noise = levels.session, levels.effort_noise[levels.owner]
    precision = levels.weight / noise**2
    sums = np.bincount(s, precision * levels.residual)[s] - precision * levels.residual
    total = np.bincount(s, precision)[s] - precision
    # A session far from the others is judged by its own efforts.
    squared = (levels.apart**2 / levels.variance)[s]
    prior = (TAIL_DF + 1.0) / (TAIL_DF + squared) / levels.variance[s]
    expected = (sums + prior * levels.reference[s]) / (total + prior)
    apart = levels.residual - expected
    return apart, apart / np.sqrt(noise**2 + 1.0 / (total + prior) + levels.curve_variance)
