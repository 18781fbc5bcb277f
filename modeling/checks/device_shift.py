"""Shifts of all athletes on a day, or from a day on: these point to a device, not the athletes.

Each level has the athlete's own mean and a straight trend that all share (form over a season)
taken off. The rest is tested for a step at every day, and for every day by itself. This is the
score test of a step in a linear model with known noise; for one athlete without trend it is the
standardised sum of Page's and Worsley's tests of a change. Sessions of one day may have noise in
common, which is learned after the best step is taken out. The chance is that of the largest of
all steps, by Bonferroni's inequality.

References
----------
Page (1955), A test for a change in a parameter occurring at an unknown point, Biometrika 42.
Worsley (1979), On the likelihood ratio test for a shift in location of normal populations,
JASA 74, 365-367.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from modeling.checks.robust_scales import median_scale
from modeling.checks.session_levels import SessionLevels

__all__ = ["DeviceShift", "Steps", "device_shifts", "step_statistics"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

FEWEST_ATHLETES = 3
FEWEST_SESSIONS = 4
"""A step needs this many sessions on either side of it."""

FALSE_SHARE = 0.03
"""Largest chance that correct data show a shift."""

MOST_SHIFTS = 3
CLIP = 3.0
"""Levels are clipped at this many spreads, since one wrong session is no device shift."""


@dataclass(frozen=True)
class DeviceShift:
    """A shift shared by all athletes.

    Attributes
    ----------
    sessions, first_day : tuples of int
        Places of the shifted sessions, and of those on the first day.
    stays : bool
        Whether it holds from that day on, or on that day alone.
    shift : float
        Size on the transformed scale.
    noise : float
        Spread of session levels about their athlete's.
    chance : float
        How many such findings to expect in correct data, at most 1.
    """

    sessions: tuple[int, ...]
    first_day: tuple[int, ...]
    stays: bool
    shift: float
    noise: float
    chance: float


@dataclass(frozen=True)
class Steps:
    """Size and test statistic of every candidate.

    Attributes
    ----------
    shift : array of shape (n_candidates,)
        Estimated size.
    statistic : array of shape (n_candidates,)
        In units of its standard error.
    """

    shift: FloatArray
    statistic: FloatArray


def step_statistics(
    level: FloatArray,
    athlete: IntArray,
    day: FloatArray,
    variance: FloatArray,
    marks: FloatArray,
    *,
    trend: bool = True,
    day_variance: float = 0.0,
) -> Steps:
    """Estimate each candidate effect by itself, next to the athletes' means and a shared trend.

    Parameters
    ----------
    level, day, variance : arrays of shape (n_sessions,)
    athlete : array of shape (n_sessions,)
        Number of the athlete, from 0.
    marks : array of shape (n_sessions, n_candidates)
        1 where a session has the effect.
    trend : bool
        Whether to take off a straight trend in `day`.
    day_variance : float
        Variance that all sessions of a calendar day share.
    """
    weight = 1.0 / variance
    columns = np.column_stack([level, day, marks])
    columns = columns - _athlete_means(columns, weight, athlete)[athlete]
    if trend:
        slow = columns[:, 1]
        squares = float(weight @ slow**2)
        if squares > 0:
            columns = columns - np.outer(slow, (weight * slow) @ columns / squares)
    y, x = columns[:, 0], columns[:, 2:]
    information = weight @ x**2
    score = (weight * y) @ x
    _, of_day = np.unique(np.floor(day), return_inverse=True)
    by_day = np.zeros((of_day.max() + 1, x.shape[1]))
    np.add.at(by_day, of_day, weight[:, None] * x)
    spread = information + day_variance * (by_day**2).sum(axis=0)
    telling = information > 1e-9 * weight.sum()
    divided = np.where(telling, information, 1.0)
    return Steps(
        shift=np.where(telling, score / divided, 0.0),
        statistic=np.where(telling, score / np.sqrt(np.where(telling, spread, 1.0)), 0.0),
    )


def device_shifts(
    levels: SessionLevels, left_out: set[int], least: float
) -> tuple[list[DeviceShift], FloatArray]:
    """Find shifts shared by all athletes, at most three.

    Parameters
    ----------
    levels : SessionLevels
    left_out : set of int
        Sessions known to be wrong in another way.
    least : float
        Smallest shift worth reporting, on the transformed scale.

    Returns
    -------
    list of DeviceShift
    array of shape (n_sessions,)
        What the shifts add to each session's level.
    """
    used = np.flatnonzero((levels.others > 0) & ~np.isin(np.arange(levels.sessions), [*left_out]))
    total = np.zeros(levels.sessions)
    found: list[DeviceShift] = []
    while len(used) and len(found) < MOST_SHIFTS:
        shift = _largest_shift(levels, used, total, least)
        if shift is None:
            break
        found.append(shift)
        total[list(shift.sessions)] += shift.shift
    return found, total


def _largest_shift(
    levels: SessionLevels, used: IntArray, total: FloatArray, least: float
) -> DeviceShift | None:
    day = levels.day[used]
    owner = np.unique(levels.session_owner[used], return_inverse=True)[1]
    variance = levels.level_variance[used] + levels.day_noise[levels.session_owner[used]] ** 2
    marks, days, stays = _candidates(np.floor(day), owner)
    if not marks.shape[1]:
        return None
    level = _clipped((levels.level - total)[used], owner, variance)
    steps = step_statistics(level, owner, day, variance, marks)
    best = int(np.argmax(np.abs(steps.statistic)))
    without = level - steps.shift[best] * marks[:, best]
    # A shift widens the noise it is compared with, so learn the noise without it.
    variance = variance * min(_excess(without, owner, variance), 1.0)
    shared = _day_variance(without, owner, day, variance)
    steps = step_statistics(level, owner, day, variance, marks, day_variance=shared)
    best = int(np.argmax(np.abs(steps.statistic)))
    chance = 2.0 * norm.sf(abs(steps.statistic[best])) * marks.shape[1]
    if chance > FALSE_SHARE or abs(steps.shift[best]) < least:
        return None
    whole = np.floor(levels.day)
    has_it = whole >= days[best] if stays[best] else whole == days[best]
    return DeviceShift(
        sessions=tuple(np.flatnonzero(has_it).tolist()),
        first_day=tuple(np.flatnonzero(whole == days[best]).tolist()),
        stays=bool(stays[best]),
        shift=float(steps.shift[best]),
        noise=float(np.sqrt(np.median(variance))),
        chance=float(chance),
    )


def _candidates(day: FloatArray, owner: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mark every step with enough sessions on both sides, and every day with enough athletes."""
    days = np.unique(day)
    from_on = (day[:, None] >= days).astype(float)
    alone = (day[:, None] == days).astype(float)
    both_sides = np.array([_on_both_sides(column, owner) for column in from_on.T], dtype=bool)
    measured = alone.sum(axis=0)
    several = (measured >= FEWEST_ATHLETES) & (measured <= len(day) - FEWEST_SESSIONS)
    return (
        np.concatenate([from_on[:, both_sides], alone[:, several]], axis=1),
        np.concatenate([days[both_sides], days[several]]),
        np.concatenate([np.ones(both_sides.sum()), np.zeros(several.sum())]),
    )


def _on_both_sides(column: FloatArray, owner: IntArray) -> bool:
    """Whether there are enough athletes and sessions on both sides of a step."""
    if min(column.sum(), (1.0 - column).sum()) < FEWEST_SESSIONS:
        return False
    after = np.bincount(owner, column)
    before = np.bincount(owner, 1.0 - column)
    return bool(((after > 0) & (before > 0)).sum() >= FEWEST_ATHLETES)


def _clipped(level: FloatArray, owner: IntArray, variance: FloatArray) -> FloatArray:
    """Levels about their athlete's median, clipped at `CLIP` spreads."""
    medians = np.array([np.median(level[owner == a]) for a in range(owner.max() + 1)])
    reach = CLIP * np.sqrt(variance)
    return np.clip(level - medians[owner], -reach, reach)


def _excess(level: FloatArray, owner: IntArray, variance: FloatArray) -> float:
    """Ratio of the variance about the athletes' means to the variance assumed."""
    centred = level - _athlete_means(level[:, None], 1.0 / variance, owner)[owner, 0]
    spare = len(level) - len(np.unique(owner)) - 2
    return median_scale(centred / np.sqrt(variance)) ** 2 * len(level) / max(spare, 1)


def _athlete_means(columns: FloatArray, weight: FloatArray, athlete: IntArray) -> FloatArray:
    count = int(athlete.max()) + 1
    sums = np.zeros((count, columns.shape[1]))
    np.add.at(sums, athlete, weight[:, None] * columns)
    return np.asarray(sums / np.bincount(athlete, weight, count)[:, None])


def _day_variance(
    level: FloatArray, athlete: IntArray, day: FloatArray, variance: FloatArray
) -> float:
    """Variance v that a day's sessions share, by moments: E[S^2] = W + v W^2 for a day's sum S."""
    weight = 1.0 / variance
    _, of_day = np.unique(np.floor(day), return_inverse=True)
    centred = level - _athlete_means(level[:, None], weight, athlete)[athlete, 0]
    sums, total = np.bincount(of_day, weight * centred), np.bincount(of_day, weight)
    return float(max((sums**2 - total).sum() / (total**2).sum(), 0.0))
