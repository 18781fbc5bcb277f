"""One start of a game: its waves, everybody's length in them, and what is lost."""

from __future__ import annotations

import pickle
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from hashlib import blake2b

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboard.core import numbers
from dashboard.game.advice import SHORTEST_GENERAL, WAVE_REASON, Occasion
from dashboard.game.choices import WaveChoice, Weighed, advice_rows, day_lengths, interval
from dashboard.game.course import (
    before_coming_on,
    bench_rows,
    circumstances,
    half_time_volume,
    left_over,
    limited,
    work_to_follow,
)
from db.plans.games import Game, GameWave, Interval, Player
from db.plans.lengths import PlanEntry
from modeling import CurveDraws
from modeling.curve.length import Length
from modeling.game.game_warm_up import Court, GameWarmUp, own_lengths, warm_ups
from modeling.game.squad_losses import SquadLosses, mean_estimate, squad_losses
from modeling.game.timeline import most_late

FloatArray = npt.NDArray[np.float64]

BASES_KEPT, STARTS_KEPT = 8, 64
"""How many of each are cached: a squad's basis takes a few megabytes, a start little."""


@dataclass(frozen=True)
class PlannedStart:
    """A start with its waves; `dashboard.game.advice.PlannedGame` explains the parts."""

    number: int
    waves: tuple[GameWave, ...]
    players: tuple[Player, ...]
    choices: tuple[WaveChoice, ...]
    own: WaveChoice
    late_shorter_minutes: float
    advice: pd.DataFrame
    cost_pct: Interval | None


def planned_start(
    occasion: Occasion,
    number: int,
    curves: Mapping[str, CurveDraws],
    chosen: Mapping[str, tuple[float, str]],
) -> PlannedStart:
    """Work out the waves before one start.

    Parameters
    ----------
    occasion
        What the coach says about the game.
    number
        Which of its starts, from 1.
    curves
        Curves of everybody who is here.
    chosen
        Length and reason of everybody whose length the coach has set by hand.
    """
    here = [athlete for athlete, start in occasion.start_of if start == number]
    by_hand = tuple((code, *chosen[code]) for code in sorted(here) if code in chosen)
    mine = {code: curves[code] for code in sorted(here)}
    said = replace(occasion, set_by_hand=by_hand)
    return _planned(_Asked(said, number, tuple(map(_content, mine.values())), mine))


@dataclass(frozen=True)
class _Asked:
    """All that a start is worked out from: the key of the caches.

    It holds no state of the store, so saving a plan doesn't make us work it out again. `curves` are
    those of everybody in this start, in the order of their codes; `content` stands for them in
    comparisons.
    """

    occasion: Occasion
    number: int
    content: tuple[bytes, ...]
    curves: Mapping[str, CurveDraws] = field(compare=False)


def _content(curve: CurveDraws) -> bytes:
    return blake2b(pickle.dumps(curve)).digest()


@dataclass(frozen=True)
class _Basis:
    """The part of a start that stays the same when a length is set by hand.

    Attributes
    ----------
    curves, losses : mapping of str to CurveDraws, SquadLosses
        Everybody's curve, limited to what they may still do that day, and what they lose.
    lengths : list of Length
        How much everybody does on the day.
    at_once : array of shape (n_athletes, 1)
        The best length of each if there were no wait.
    """

    curves: Mapping[str, CurveDraws]
    losses: SquadLosses
    lengths: list[Length]
    at_once: FloatArray


@lru_cache(maxsize=BASES_KEPT)
def _basis(asked: _Asked) -> _Basis:
    occasion, here, earlier = asked.occasion, [*asked.curves], dict(asked.occasion.earlier)
    curves = {code: limited(curve, earlier.get(code, 0.0)) for code, curve in asked.curves.items()}
    losses = _losses(occasion, asked.number, here, curves)
    steps = losses.lengths(0.0)
    at_once = steps[losses.pct(steps, 0.0).argmin(axis=1)][:, None]
    return _Basis(curves, losses, day_lengths(losses, _waits(losses, occasion, here)), at_once)


@lru_cache(maxsize=STARTS_KEPT)
def _planned(asked: _Asked) -> PlannedStart:
    occasion, number, here = asked.occasion, asked.number, [*asked.curves]
    basis = _basis(
        replace(asked, occasion=replace(occasion, set_by_hand=None, waves=(), most_waves=0))
    )
    game, losses, lengths = occasion.game, basis.losses, basis.lengths
    chosen = {code: (length, why) for code, length, why in occasion.set_by_hand or ()}
    set_by_hand = {n: chosen[code][0] for n, code in enumerate(here) if code in chosen}
    before = game.prevention_minutes
    court = Court(
        before + game.general_minutes, game.gap_minutes, game.minutes_per_effort, game.staff
    )
    shorter = replace(court, lead_minutes=before + min(SHORTEST_GENERAL, game.general_minutes))
    own = np.array([each.volume for each in lengths])
    wanted = occasion.waves[number - 1] if number <= len(occasion.waves) else None
    most = max(occasion.most_waves, wanted or 0)
    waves = warm_ups(losses, court, own, set_by_hand, most)
    each_own = own_lengths(own, court, set_by_hand)
    if wanted is None:
        found = each_own
        faster = own_lengths(own, shorter, set_by_hand)
    else:
        found = waves[min(wanted, len(waves)) - 1]
        faster = warm_ups(losses, shorter, own, set_by_hand, most=min(wanted, len(waves)))[-1]
    free = _free_minutes(game, number)
    advice = advice_rows(losses, lengths, game.gap_minutes, found.length, found.rest_minutes)
    start = _Start(occasion, number, here, basis, found, advice, chosen)
    weighed = Weighed(losses, court, lengths, free)
    return PlannedStart(
        number=number,
        waves=start.waves(),
        players=start.players(),
        choices=tuple(weighed.choice(each, len(each.volumes)) for each in waves),
        own=weighed.choice(each_own, 0),
        late_shorter_minutes=most_late(faster.turns, free),
        advice=advice,
        cost_pct=interval(found.cost_pct),
    )


def _losses(
    occasion: Occasion, number: int, here: Sequence[str], curves: Mapping[str, CurveDraws]
) -> SquadLosses:
    """Return what those who are here lose, given an earlier game and the bench."""
    game, earlier = occasion.game, dict(occasion.earlier)
    around = circumstances(game, number)
    return squad_losses(
        [
            before_coming_on(curves[code], around) if code in occasion.bench else curves[code]
            for code in here
        ],
        work_to_follow(game),
        around,
        [occasion.general_minutes(code) for code in here],
        [left_over(game, number, curves[code], earlier.get(code, 0.0)) for code in here],
    )


def _waits(losses: SquadLosses, occasion: Occasion, here: Sequence[str]) -> FloatArray:
    """Return the wait each length allows for; substitutes top up later, so for them it is short."""
    gap = occasion.game.gap_minutes
    sits = np.isin(here, occasion.bench)
    return np.where(sits, min(gap, losses.curves[0].usual.rest_minutes), gap)


@dataclass(frozen=True)
class _Start:
    """What a start's waves and players are built from."""

    occasion: Occasion
    number: int
    here: list[str]
    basis: _Basis
    warm_up: GameWarmUp
    advice: pd.DataFrame
    chosen: Mapping[str, tuple[float, str]]

    def waves(self) -> tuple[GameWave, ...]:
        # Cost of the wait if nobody plans for it.
        losses, length = self.basis.losses, self.basis.at_once
        waited = losses.drawn(length, self.warm_up.rest_minutes[:, None])
        cost = waited - losses.drawn(length, 0.0)
        return tuple(
            GameWave(
                self.number,
                place + 1,
                float(volume),
                turn.ready,
                interval(mean_estimate(cost[self.warm_up.wave == place])),
            )
            for place, (volume, turn) in enumerate(
                zip(self.warm_up.volumes, self.warm_up.turns, strict=True)
            )
        )

    def players(self) -> tuple[Player, ...]:
        rows = self.advice.to_dict("records")
        return tuple(
            self._player(place, athlete, rows[place]) for place, athlete in enumerate(self.here)
        )

    def _player(self, place: int, athlete: str, row: numbers.Row) -> Player:
        occasion, game = self.occasion, self.occasion.game
        length, wave = float(self.warm_up.length[place]), int(self.warm_up.wave[place]) + 1
        own = self.chosen.get(athlete)
        reason = "" if length == row["advised"] else f"{WAVE_REASON}{wave}"
        waits = athlete in occasion.bench
        around = self.basis.losses.of_athlete(place)
        half_time = half_time_volume(self.basis.losses.curves[place], length, around, game)
        # Players who come off the court have not waited yet.
        rest = float(self.warm_up.rest_minutes[place]) if waits else 0.0
        again = waits or game.course.rolling
        return Player(
            plan=PlanEntry(
                day=game.day,
                athlete=athlete,
                measure=game.measure,
                goal=game.goal,
                efforts_to_follow=game.efforts_to_follow,
                advised_volume=row["advised"],
                standard_volume=row["standard"],
                chosen_volume=length,
                reason=own[1] if own else reason,
                second_game=game.course.second_game,
            ),
            role="bench" if waits else "starts",
            start_number=self.number,
            wave=wave,
            own_length=own is not None,
            general_minutes=occasion.general_minutes(athlete),
            loss_pct=(row["lost_set"], row["lost_set_low"], row["lost_set_high"]),
            bench=bench_rows(limited(self.basis.curves[athlete], half_time), length, around, rest)
            if again
            else (),
            top_up=self.basis.lengths[place].top_up,
            half_time=half_time,
            earlier_volume=dict(occasion.earlier).get(athlete, 0.0),
        )


def _free_minutes(game: Game, number: int) -> float | None:
    if game.free_from is None:
        return None
    return (game.starts[number - 1] - game.free_from).total_seconds() / 60.0
