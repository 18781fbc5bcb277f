"""Waves: a few lengths for a squad, chosen so that the squad loses least.

Each wave has one length, and every athlete joins the wave that costs them least. If an athlete's
loss falls to a best length and rises after it, the cheapest wave is one of the two on either side
of that length. For athletes whose best length is between two neighbouring waves, the cost then
depends on these two alone, and dynamic programming over the lengths in rising order finds the
least sum. If a loss has several dips, all choices are tried when there are few. When there are
many, the lengths found by dynamic programming are moved one at a time as long as that helps.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from modeling.errors import ModelError

__all__ = ["Grouping", "groupings"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_TRIED = 20_000
"""Where dynamic programming is not exact, up to this many choices of lengths are all tried."""
DIP = 1e-9
"""A loss that rises by less than this before its best length counts as not rising, in %."""


@dataclass(frozen=True)
class Grouping:
    """A squad's athletes in waves.

    Attributes
    ----------
    volumes : array of shape (n_waves,)
        Length of each wave, rising.
    wave : array of shape (n_athletes,)
        Which wave each athlete joins.
    loss_pct : float
        Mean loss over the athletes, in %.
    cost_pct : float
        Mean loss beyond that with everybody at their own best length, in %.
    exact : bool
        Whether it is certain that no other choice of as many waves costs less.
    """

    volumes: FloatArray
    wave: IntArray
    loss_pct: float
    cost_pct: float
    exact: bool


def groupings(loss_pct: FloatArray, volume: FloatArray, most: int) -> tuple[Grouping, ...]:
    """Gather athletes into 1, 2, ... waves whose lengths cost the squad least.

    Parameters
    ----------
    loss_pct : array of shape (n_athletes, n_volumes)
        Expected loss of each athlete at each length, in %. No value may be missing.
    volume : array of shape (n_volumes,)
        The lengths, rising.
    most : int
        Largest number of waves, 1 or more; there are never more waves than athletes or lengths. A
        grouping has fewer waves than asked for if fewer cost no more. If lengths cost the same,
        the shorter is taken.

    Raises
    ------
    ModelError
        There is no athlete, no wave is asked for, or a loss is missing.
    """
    loss, volume = np.asarray(loss_pct, dtype=float), np.asarray(volume, dtype=float)
    _check(loss, volume, most)
    one_dip = _has_one_dip(loss)
    found = []
    for waves, chosen in enumerate(_by_steps(loss, min(most, *loss.shape)), start=1):
        exact = one_dip or comb(len(volume), waves) <= MOST_TRIED
        if not one_dip:
            chosen = _by_trying_all(loss, waves) if exact else _moved(loss, chosen)
        found.append(_grouping(loss, volume, chosen, exact))
    return tuple(found)


def _check(loss: FloatArray, volume: FloatArray, most: int) -> None:
    if loss.ndim != 2 or loss.shape[1] != len(volume) or 0 in loss.shape:
        raise ModelError("Waves need the loss of one athlete or more at one length or more.")
    if most < 1:
        raise ModelError(f"There must be at least 1 wave. Got {most}.")
    if not np.isfinite(loss).all() or np.any(np.diff(volume) <= 0):
        raise ModelError("Waves need every loss as a number, at lengths that rise.")


def _has_one_dip(loss: FloatArray) -> bool:
    """Whether every loss falls to its least and rises after it."""
    place = np.arange(loss.shape[1] - 1)
    rising = np.diff(loss, axis=1)
    before = place[None, :] < loss.argmin(axis=1)[:, None]
    return bool(np.all(np.where(before, rising <= DIP, rising >= -DIP)))


def _by_steps(loss: FloatArray, most: int) -> list[IntArray]:
    """Places of the best lengths for 1 to `most` waves, by dynamic programming."""
    best, many = loss.argmin(axis=1), loss.shape[1]
    between = _between(loss, best)
    place = np.arange(many)
    below = np.where(best[:, None] < place, loss, 0.0).sum(axis=0)
    above = np.where(best[:, None] >= place, loss, 0.0).sum(axis=0)
    least, steps, chosen = below, [], []
    for waves in range(1, most + 1):
        if waves > 1:
            total = least[:, None] + between
            np.fill_diagonal(total, least)
            steps.append(total.argmin(axis=0))
            least = total.min(axis=0)
        chosen.append(_traced(int((least + above).argmin()), steps))
    return chosen


def _between(loss: FloatArray, best: IntArray) -> FloatArray:
    """Cost of the athletes whose best length is between two: each takes the cheaper of the two."""
    many = loss.shape[1]
    between = np.full((many, many), np.inf)
    for low in range(many):
        cheaper = np.minimum(loss[:, low, None], loss[:, low:])
        inside = (best[:, None] >= low) & (best[:, None] < np.arange(low, many))
        between[low, low:] = np.where(inside, cheaper, 0.0).sum(axis=0)
    return between


def _traced(place: int, steps: list[IntArray]) -> IntArray:
    """Follow the steps back from the last length to the first."""
    chosen = [place]
    for step in reversed(steps):
        place = int(step[place])
        chosen.append(place)
    return np.unique(chosen)


def _by_trying_all(loss: FloatArray, waves: int) -> IntArray:
    every = np.array(list(combinations(range(loss.shape[1]), waves)))
    total = loss[:, every].min(axis=2).sum(axis=0)
    return np.asarray(every[int(total.argmin())])


def _moved(loss: FloatArray, chosen: IntArray) -> IntArray:
    """Move one length at a time to where it costs the squad least, as long as that helps."""
    places = [int(place) for place in chosen]
    least = loss[:, places].min(axis=1).sum()
    while True:
        for which in range(len(places)):
            others = places[:which] + places[which + 1 :]
            rest = loss[:, others].min(axis=1) if others else np.full(len(loss), np.inf)
            places[which] = int(np.minimum(loss, rest[:, None]).sum(axis=0).argmin())
        total = loss[:, places].min(axis=1).sum()
        if total >= least - DIP:
            return np.unique(places)
        least = total


def _grouping(loss: FloatArray, volume: FloatArray, chosen: IntArray, exact: bool) -> Grouping:
    """Let every athlete join the cheapest wave, and drop waves that nobody joins."""
    kept = chosen[np.unique(loss[:, chosen].argmin(axis=1))]
    paid = loss[:, kept].min(axis=1)
    return Grouping(
        volumes=volume[kept],
        wave=loss[:, kept].argmin(axis=1),
        loss_pct=float(paid.mean()),
        cost_pct=float((paid - loss.min(axis=1)).mean()),
        exact=exact,
    )
