"""A squad's warm-up before one start: lengths in waves, and the waves back from the start.

Waves are formed for the gap before the start. One that must go before another, for want of
staff, waits longer and keeps its length: to do more against the wait would tire. What the wait
costs counts in the order of the waves, in who joins which, and in what so many waves cost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from modeling.advice import TIE_PCT
from modeling.estimate import Estimate
from modeling.squad_losses import SquadLosses, mean_estimate
from modeling.timeline import MOST_WAVES, Turn, timeline
from modeling.waves import groupings

__all__ = ["Court", "GameWarmUp", "proposed", "warm_ups"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PULL_PCT = 0.001
"""What a wave away from a length that the coach has set counts for each unit, in %: little, so
that waves are formed by the others, and by such lengths where there are no others."""
NEAR_SHARE = 0.25
"""Numbers of waves whose mean losses differ by less than this share of the smallest worthwhile
change count as equal; the fewest are proposed."""


@dataclass(frozen=True)
class Court:
    """What the day gives and takes.

    Attributes
    ----------
    general_minutes, gap_minutes, minutes_per_effort : float
        General part of a wave, time between the last efforts and the start, time for one effort.
    staff : int
        Who can lead a wave.
    """

    general_minutes: float
    gap_minutes: float
    minutes_per_effort: float = 0.5
    staff: int = 2


@dataclass(frozen=True)
class GameWarmUp:
    """Waves for a squad, the first to begin first.

    Attributes
    ----------
    volumes : array of shape (n_waves,)
        Length of each wave, to do.
    turns : tuple of Turn
        When each is led, in minutes before the start.
    wave : array of shape (n_athletes,)
        Which wave each athlete joins.
    length : array of shape (n_athletes,)
        What each does: the wave's length, or that which the coach has set.
    loss_pct : float
        Expected mean loss over the athletes against their own peaks, in %.
    cost_pct : Estimate or None
        What the waves give away on average against everybody at the own best length, in %; None
        where the coach has set all lengths.
    """

    volumes: FloatArray
    turns: tuple[Turn, ...]
    wave: IntArray
    length: FloatArray
    loss_pct: float
    cost_pct: Estimate | None

    @property
    def rest_minutes(self) -> FloatArray:
        """Between the efforts of each athlete's wave and the start: array (n_athletes,)."""
        return np.array([turn.ready for turn in self.turns])[self.wave]


def warm_ups(
    losses: SquadLosses,
    court: Court,
    set_lengths: Mapping[int, float] | None = None,
    most: int = MOST_WAVES,
) -> tuple[GameWarmUp, ...]:
    """Lay the warm-up out in 1, 2, ... waves.

    Parameters
    ----------
    losses : SquadLosses
        Of those who warm up for this start.
    court : Court
    set_lengths : mapping of int to float, optional
        Lengths that the coach has set, by the athlete's place; these are done whatever the wave.
    most : int
        Most waves.

    Returns
    -------
    tuple of GameWarmUp
        One for each number of waves; fewer than `most` where there are fewer athletes.
    """
    lengths = losses.lengths(court.gap_minutes)
    own = lengths[losses.pct(lengths, court.gap_minutes).argmin(axis=1)]
    at_own = losses.drawn(own[:, None], court.gap_minutes)
    problem = _Problem(losses, court, dict(set_lengths or {}), at_own)
    costs = problem.costs(lengths, court.gap_minutes)
    found = groupings(costs, lengths, min(most, MOST_WAVES))
    return tuple(
        problem.arranged(problem.shortest(lengths, costs, each.wave), each.wave) for each in found
    )


def proposed(found: tuple[GameWarmUp, ...], worthwhile_pct: float) -> int:
    """Say which of some warm-ups to propose: the fewest waves that cost hardly more than any."""
    enough = min(each.loss_pct for each in found) + NEAR_SHARE * worthwhile_pct
    return next(place for place, each in enumerate(found) if each.loss_pct <= enough)


@dataclass(frozen=True)
class _Problem:
    losses: SquadLosses
    court: Court
    set_lengths: dict[int, float]
    lost_at_own: FloatArray

    def costs(self, lengths: FloatArray, rest_minutes: float | FloatArray) -> FloatArray:
        """Give what steers the waves: expected losses, and a slight pull by set lengths."""
        costs = self.losses.pct(lengths, rest_minutes)
        for athlete, length in self.set_lengths.items():
            costs[athlete] = PULL_PCT * np.abs(lengths - length)
        return costs

    def shortest(self, lengths: FloatArray, costs: FloatArray, wave: IntArray) -> FloatArray:
        """Length of each wave: of those about as good for its athletes, the shortest."""
        free = ~np.isin(np.arange(len(wave)), list(self.set_lengths))
        found = []
        for each in range(wave.max() + 1):
            total = costs[wave == each].sum(axis=0)
            tie = TIE_PCT * np.count_nonzero(free & (wave == each))
            found.append(lengths[int(np.argmax(total <= total.min() + tie))])
        return np.unique(found)

    def arranged(self, volumes: FloatArray, wave: IntArray) -> GameWarmUp:
        """Lay the waves out, and let every athlete join the one that then costs least."""
        court = self.court
        wave = self.costs(volumes, court.gap_minutes).argmin(axis=1)

        @cache
        def rest_cost(which: int, rest: float) -> float:
            return float(self.costs(volumes[which : which + 1], rest)[wave == which].sum())

        minutes = [float(volume) * court.minutes_per_effort for volume in volumes]
        turns = timeline(court.general_minutes, minutes, court.gap_minutes, court.staff, rest_cost)
        rest = np.array([turn.ready for turn in turns])
        return self._numbered(volumes, self.costs(volumes, rest).argmin(axis=1), turns)

    def _numbered(self, volumes: FloatArray, wave: IntArray, turns: tuple[Turn, ...]) -> GameWarmUp:
        """Drop waves that nobody joins, and number the others by when they begin."""
        joined = sorted(set(wave.tolist()), key=lambda each: -turns[each].begins)
        place = {each: number for number, each in enumerate(joined)}
        wave = np.array([place[each] for each in wave.tolist()])
        volumes, turns = volumes[joined], tuple(turns[each] for each in joined)
        length = volumes[wave]
        length[list(self.set_lengths)] = list(self.set_lengths.values())
        rest = np.array([turn.ready for turn in turns])[wave]
        return GameWarmUp(
            volumes=volumes,
            turns=turns,
            wave=wave,
            length=length,
            loss_pct=float(self.losses.pct(length[:, None], rest[:, None]).mean()),
            cost_pct=self._cost(length, rest),
        )

    def _cost(self, length: FloatArray, rest: FloatArray) -> Estimate | None:
        """Mean of what those without a length of their own give away for the waves."""
        free = [place for place in range(len(length)) if place not in self.set_lengths]
        if not free:
            return None
        lost = self.losses.drawn(length[:, None], rest[:, None])
        return mean_estimate((lost - self.lost_at_own)[free])
