"""Sessions that are in the data twice, under another time or another athlete.

Two sessions may have the same volumes, and values that agree within the reading of the instrument,
by coincidence. The chance of that is, for each value, at most the width of the reading times the
highest density of a difference of two efforts, 1 / (2 s sqrt(pi)) for normal noise s. Times the
number of pairs compared, it is the number of coincidences to expect in correct data. Pairs on one
day and on two, and of one athlete and of two, are counted separately: the first kinds are few,
and more likely to be copies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from modeling.checks.session_faults import FALSE_SHARE, SessionFault
from modeling.checks.session_levels import SessionLevels

__all__ = ["doubled_sessions"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SAME = 1e-3
"""Values that differ by less than this share are the same, written differently."""

FEWEST_EFFORTS = 2


def doubled_sessions(
    levels: SessionLevels, value: FloatArray, level_spread: float
) -> list[SessionFault]:
    """Find pairs of sessions that are too alike to be different ones.

    Parameters
    ----------
    levels : SessionLevels
    value : array of shape (n_efforts,)
        Logarithms of the values, in the order of `levels`.
    level_spread : float
        Standard deviation of the athletes' levels, for sessions of two athletes.

    Returns
    -------
    list of SessionFault
        The earlier session first.
    """
    width = max(2.0 * SAME, _reading(value))
    noise = float(np.median(levels.effort_noise))
    day = np.floor(levels.day).astype(int)
    groups = _groups(levels, value)
    pairs = sum((_pairs(levels.session_owner[s], day[s]) for s, _ in groups), np.zeros((2, 2)))
    of_one, of_two = _coincidence(width, noise), _coincidence(width, max(level_spread, noise))
    found = []
    for sessions, values in groups:
        # Rows: of one athlete or of two; columns: on one day or on two.
        further = of_one ** (values.shape[1] - 1)
        chances = pairs * np.array([[of_one], [of_two]]) * further
        telling = chances <= FALSE_SHARE / pairs.size
        # Nearly noise-free efforts agree by the thousand, which says nothing.
        for i, j in _same_rows(values) if telling.any() else ():
            a, b = int(sessions[i]), int(sessions[j])
            kind = int(levels.session_owner[a] != levels.session_owner[b]), int(day[a] != day[b])
            if telling[kind]:
                earlier, later = sorted((a, b), key=lambda s: (levels.day[s], s))
                found.append(SessionFault((earlier, later), 0.0, float(chances[kind])))
    return found


def _pairs(owner: IntArray, day: IntArray) -> FloatArray:
    """How many pairs there are of one athlete or of two (rows), on one day or on two (columns)."""
    whole, of_one, of_day, of_both = (
        float((counts * (counts - 1)).sum()) / 2.0
        for counts in (
            np.array([len(owner)]),
            np.bincount(owner),
            np.unique(day, return_counts=True)[1],
            np.unique(np.stack([owner, day]), axis=1, return_counts=True)[1],
        )
    )
    two_of_day = of_day - of_both
    return np.array([[of_both, of_one - of_both], [two_of_day, whole - of_one - two_of_day]])


def _coincidence(width: float, noise: float) -> float:
    return float(min(width / (2.0 * noise * np.sqrt(np.pi)), 1.0))


def _reading(value: FloatArray) -> float:
    """Smallest step between different values, set by the instrument or by how values are written.

    Exact copies and the computer's rounding errors do not count as steps.
    """
    steps = np.diff(np.unique(value))
    real = steps[steps > 1e-9]
    return float(np.quantile(real, 0.1)) if len(real) else np.inf


def _groups(levels: SessionLevels, value: FloatArray) -> list[tuple[IntArray, FloatArray]]:
    """Sessions with the same volumes; each one's values are a row, sorted by the first value."""
    by_volumes: dict[bytes, list[int]] = {}
    starts = np.flatnonzero(np.diff(levels.session, prepend=-1))
    ends = np.append(starts[1:], len(levels.session))
    for s, (start, end) in enumerate(zip(starts, ends, strict=True)):
        if end - start >= FEWEST_EFFORTS:
            by_volumes.setdefault(levels.done[start:end].tobytes(), []).append(s)
    groups = []
    for sessions in by_volumes.values():
        if len(sessions) > 1:
            values = np.stack([value[starts[s] : ends[s]] for s in sessions])
            order = np.argsort(values[:, 0], kind="stable")
            groups.append((np.array(sessions)[order], values[order]))
    return groups


def _same_rows(values: FloatArray) -> list[tuple[int, int]]:
    """Pairs of rows that agree in all values; rows come sorted by their first value."""
    found, apart = [], 1
    while apart < len(values):
        near = np.abs(values[apart:, 0] - values[:-apart, 0]) <= SAME
        if not near.any():
            break
        same = near & (np.abs(values[apart:] - values[:-apart]) <= SAME).all(axis=1)
        found += [(int(i), int(i) + apart) for i in np.flatnonzero(same)]
        apart += 1
    return found
