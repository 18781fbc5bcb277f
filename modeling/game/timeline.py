"""A warm-up's timeline, counted back from the start: when each wave begins and is ready.

All times are minutes before the start. One of the staff leads a wave from beginning to end, and
leads one wave at a time, so no more waves run at once than there are staff. Everybody's last wave
ends at the same time, one gap before the start. A wave that has to go before another waits longer,
and its rest costs more. The order whose waits cost least is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from modeling.errors import ModelError

__all__ = ["Turn", "most_late", "timeline"]

MOST_WAVES = 6
"""With more waves there are too many orders to try, and no staff runs that many."""

FloatArray = NDArray[np.float64]
RestCost = Callable[[int, FloatArray], FloatArray]
"""Gives a wave's costs for some rests before the start, in minutes."""


@dataclass(frozen=True)
class Turn:
    """When a wave is led, in minutes before the start.

    Attributes
    ----------
    leader : int
        Number of the staff member who leads it, from 0.
    begins, efforts_begin, ready : float
        Beginning of the general part, beginning of the specific efforts, and their end.
    """

    leader: int
    begins: float
    efforts_begin: float
    ready: float


def timeline(
    general_minutes: float,
    effort_minutes: Sequence[float],
    gap_minutes: float,
    staff: int,
    rest_cost: RestCost,
) -> tuple[Turn, ...]:
    """Lay out waves, counting back from the start.

    Parameters
    ----------
    general_minutes : float
        Time for the general part of every wave.
    effort_minutes : sequence of float
        Time for the specific efforts of each wave.
    gap_minutes : float
        Time between the last efforts and the start.
    staff : int
        Number of staff who can lead a wave.
    rest_cost : callable
        Gives the costs of a wave, by its number from 0, for an array of rests in minutes.

    Returns
    -------
    tuple of Turn
        One for each wave. If orders cost the same, the one whose first wave begins last is taken.

    Raises
    ------
    ModelError
        There are no staff, too many waves, or a time is negative.

    Examples
    --------
    One coach leads two waves, a wave after the other; the one that loses more by waiting is last.

    >>> for turn in timeline(10.0, [5.0, 8.0], 5.0, 1, lambda wave, rest: (3, 1)[wave] * rest):
    ...     print(turn.begins, turn.ready)
    20.0 5.0
    38.0 20.0
    """
    if staff < 1:
        raise ModelError(f"At least 1 of the staff must lead. Got {staff}.")
    if not 1 <= len(effort_minutes) <= MOST_WAVES:
        raise ModelError(f"There can be 1 to {MOST_WAVES} waves. Got {len(effort_minutes)}.")
    if min(general_minutes, gap_minutes, *effort_minutes) < 0:
        raise ModelError("No part of a warm-up takes less than 0 minutes.")
    laid_out = [
        _laid_out(order, general_minutes, effort_minutes, gap_minutes, staff)
        for order in _orders(len(effort_minutes), staff)
    ]
    # Hundreds of orders share a few dozen rests, and all at once take little longer than one.
    costs = []
    for wave in range(len(effort_minutes)):
        rests = sorted({turns[wave].ready for turns in laid_out})
        costs.append(dict(zip(rests, rest_cost(wave, np.array(rests)).tolist(), strict=True)))

    def rank(turns: tuple[Turn, ...]) -> tuple[float, float]:
        cost = sum(costs[wave][turn.ready] for wave, turn in enumerate(turns))
        return round(cost, 9), max(turn.begins for turn in turns)

    return min(laid_out, key=rank)


def _orders(waves: int, staff: int) -> list[tuple[int, ...]]:
    """Orders back from the start; only one is needed if each wave has its own leader."""
    every = range(waves)
    return [tuple(every)] if waves <= staff else list(permutations(every))


def _laid_out(
    order: Sequence[int],
    general_minutes: float,
    effort_minutes: Sequence[float],
    gap_minutes: float,
    staff: int,
) -> tuple[Turn, ...]:
    """Give each wave in turn to the staff member who is free closest to the start."""
    free = [gap_minutes] * staff
    turns: dict[int, Turn] = {}
    for wave in order:
        leader = free.index(min(free))
        efforts_begin = free[leader] + effort_minutes[wave]
        begins = efforts_begin + general_minutes
        turns[wave] = Turn(leader, begins, efforts_begin, free[leader])
        free[leader] = begins
    return tuple(turns[wave] for wave in range(len(effort_minutes)))


def most_late(turns: Sequence[Turn], free_minutes: float | None) -> float:
    """Minutes by which the waves would begin before the court is free; 0 when all fit.

    Parameters
    ----------
    turns : sequence of Turn
    free_minutes : float or None
        Minutes before the start at which the court becomes free; None if it is always free.
    """
    if free_minutes is None:
        return 0.0
    return max(0.0, *(turn.begins - free_minutes for turn in turns))
