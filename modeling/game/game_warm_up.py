"""A squad's warm-up before one start: everybody's own length, or a few waves.

With own lengths everybody is ready at the same time, so each begins at a different one. Waves are
formed for the gap before the start. If there are too few staff, a wave has to go before another.
It then waits longer but keeps its length, since doing more against the wait would tire. The cost
of the wait counts in the order of the waves, in who joins which, and in the total cost. When waves
are formed, no athlete is credited with a gain from leaving their own length, and nobody does more
in a wave than their limits allow.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from modeling.curve.advice import TIE_PCT
from modeling.estimate import Estimate
from modeling.game.squad_losses import SquadLosses, mean_estimate
from modeling.game.timeline import MOST_WAVES, Turn, timeline
from modeling.game.waves import groupings

__all__ = ["Court", "GameWarmUp", "own_lengths", "warm_ups"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PULL_PCT = 0.001
"""Extra cost in % for each unit that a wave is away from an athlete's own length. It is so small
that it decides only between waves that cost the same."""


@dataclass(frozen=True)
class Court:
    """Times and staff on the day.

    Attributes
    ----------
    lead_minutes, gap_minutes, minutes_per_effort : float
        Time before a wave's efforts (prevention, general part), time between the last efforts and
        the start, and time for one effort.
    staff : int
        Number of staff who can lead a wave.
    """

    lead_minutes: float
    gap_minutes: float
    minutes_per_effort: float = 0.5
    staff: int = 2


@dataclass(frozen=True)
class GameWarmUp:
    """Waves for a squad, in the order in which they begin.

    Attributes
    ----------
    volumes : array of shape (n_waves,)
        Length of each wave, to do.
    turns : tuple of Turn
        When each wave is led, in minutes before the start.
    wave : array of shape (n_athletes,)
        Which wave each athlete joins.
    length : array of shape (n_athletes,)
        Length of each athlete: their own, the wave's, or the one that the coach has set.
    cost_pct : Estimate or None
        Mean cost of the waves against own lengths for everybody, in %; None with own lengths, or
        if the coach has set all lengths.
    """

    volumes: FloatArray
    turns: tuple[Turn, ...]
    wave: IntArray
    length: FloatArray
    cost_pct: Estimate | None

    @property
    def rest_minutes(self) -> FloatArray:
        """Minutes between the efforts of each athlete's wave and the start: (n_athletes,)."""
        return np.array([turn.ready for turn in self.turns])[self.wave]


def own_lengths(
    own: FloatArray, court: Court, set_lengths: Mapping[int, float] | None = None
) -> GameWarmUp:
    """Let everybody do their own length, or the coach's, and be ready at the same time.

    The one wave has the most common of the own lengths.
    """
    length = _with_set(own, set_lengths or {})
    longest = float(length.max()) * court.minutes_per_effort
    efforts_begin = court.gap_minutes + longest
    turn = Turn(0, efforts_begin + court.lead_minutes, efforts_begin, court.gap_minutes)
    usual = Counter(sorted(own.tolist())).most_common(1)[0][0]
    return GameWarmUp(np.array([usual]), (turn,), np.zeros(len(own), dtype=int), length, None)


def warm_ups(
    losses: SquadLosses,
    court: Court,
    own: FloatArray,
    set_lengths: Mapping[int, float] | None = None,
    most: int = MOST_WAVES,
) -> tuple[GameWarmUp, ...]:
    """Lay the warm-up out in 1, 2, ... waves.

    Parameters
    ----------
    losses : SquadLosses
        Losses of the athletes who warm up for this start.
    court : Court
    own : array of shape (n_athletes,)
        Everybody's own length on the day.
    set_lengths : mapping of int to float, optional
        Lengths that the coach has set, by the athlete's place; they hold in any wave.
    most : int
        Largest number of waves.

    Returns
    -------
    tuple of GameWarmUp
        One for each number of waves; fewer than `most` if there are fewer athletes.
    """
    problem = _Problem(losses, court, own, dict(set_lengths or {}))
    lengths = losses.lengths(court.gap_minutes)
    lengths = lengths[lengths <= max(problem.most.max(), own.max())]
    costs = problem.costs(lengths, court.gap_minutes)
    found = groupings(costs, lengths, min(most, MOST_WAVES))
    return tuple(
        problem.arranged(problem.shortest(lengths, costs, each.wave), each.wave) for each in found
    )


def _with_set(length: FloatArray, set_lengths: Mapping[int, float]) -> FloatArray:
    found = length.copy()
    found[list(set_lengths)] = list(set_lengths.values())
    return found


@dataclass(frozen=True)
class _Problem:
    losses: SquadLosses
    court: Court
    own: FloatArray
    set_lengths: dict[int, float]

    @property
    def most(self) -> FloatArray:
        """The most that each athlete may do: array of shape (n_athletes,)."""
        return np.array([curve.limits.most for curve in self.losses.curves])

    def costs(self, lengths: FloatArray, rest_minutes: float | FloatArray) -> FloatArray:
        """Give the costs that form waves: losses beyond those at the own length, and a slight pull.

        Athletes with a set length only add the pull, so the others decide the waves.
        """
        done = np.minimum(lengths[None, :], self.most[:, None])
        costs = np.maximum(self.losses.pct(done, rest_minutes) - self._at_own, 0.0)
        costs[list(self.set_lengths)] = 0.0
        wanted = _with_set(self.own, self.set_lengths)
        return np.asarray(costs + PULL_PCT * np.abs(lengths[None, :] - wanted[:, None]))

    def _some(self, places: IntArray) -> _Problem:
        """Take the same problem for some of the athletes."""
        kept = {n: self.set_lengths[p] for n, p in enumerate(places) if p in self.set_lengths}
        losses = self.losses.of_athletes(places)
        return _Problem(losses, self.court, self.own[places], kept)

    @cached_property
    def _at_own(self) -> FloatArray:
        """Each athlete's loss at their own length: array of shape (n_athletes, 1)."""
        return self.losses.pct(self.own[:, None], self.court.gap_minutes)

    def shortest(self, lengths: FloatArray, costs: FloatArray, wave: IntArray) -> FloatArray:
        """Length of each wave: the shortest of those that are about as good for its athletes."""
        free = ~np.isin(np.arange(len(wave)), list(self.set_lengths))
        found = []
        for each in range(wave.max() + 1):
            total = costs[wave == each].sum(axis=0)
            tie = TIE_PCT * np.count_nonzero(free & (wave == each))
            found.append(lengths[int(np.argmax(total <= total.min() + tie))])
        return np.unique(found)

    def arranged(self, volumes: FloatArray, wave: IntArray) -> GameWarmUp:
        """Lay the waves out, and let every athlete join the wave that then costs least."""
        court = self.court
        wave = self.costs(volumes, court.gap_minutes).argmin(axis=1)

        members = {which: self._some(np.flatnonzero(wave == which)) for which in set(wave.tolist())}

        def rest_cost(which: int, rests: FloatArray) -> FloatArray:
            if which not in members:
                return np.zeros(len(rests))
            return members[which].costs(np.full(len(rests), volumes[which]), rests).sum(axis=0)

        minutes = [float(volume) * court.minutes_per_effort for volume in volumes]
        turns = timeline(court.lead_minutes, minutes, court.gap_minutes, court.staff, rest_cost)
        rest = np.array([turn.ready for turn in turns])
        return self._numbered(volumes, self.costs(volumes, rest).argmin(axis=1), turns)

    def _numbered(self, volumes: FloatArray, wave: IntArray, turns: tuple[Turn, ...]) -> GameWarmUp:
        """Drop waves that nobody joins, and number the others in the order they begin."""
        joined = sorted(set(wave.tolist()), key=lambda each: -turns[each].begins)
        place = {each: number for number, each in enumerate(joined)}
        wave = np.array([place[each] for each in wave.tolist()])
        volumes, turns = volumes[joined], tuple(turns[each] for each in joined)
        length = _with_set(np.minimum(volumes[wave], self.most), self.set_lengths)
        rest = np.array([turn.ready for turn in turns])[wave]
        return GameWarmUp(
            volumes=volumes,
            turns=turns,
            wave=wave,
            length=length,
            cost_pct=self._cost(length, rest),
        )

    def _cost(self, length: FloatArray, rest: FloatArray) -> Estimate | None:
        """Mean of what the waves cost the athletes whose length the coach has not set."""
        free = [place for place in range(len(length)) if place not in self.set_lengths]
        if not free:
            return None
        lost = self.losses.drawn(length[:, None], rest[:, None])
        at_own = self.losses.drawn(self.own[:, None], self.court.gap_minutes)
        return mean_estimate((lost - at_own)[free])
