"""One start of a game: its waves, everybody's length in them, and what both give away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboard.core import numbers
from dashboard.game.advice import SHORTEST_GENERAL, WAVE_REASON, Occasion
from dashboard.game.choices import WaveChoice, Weighed, interval
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
from modeling.day.goal_advice import length_of
from modeling.game.game_warm_up import Court, GameWarmUp, own_lengths, warm_ups
from modeling.game.squad_losses import SquadLosses, estimates, mean_estimate, squad_losses
from modeling.game.timeline import most_late

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class PlannedStart:
    """A start with its waves; `dashboard.game.advice.PlannedGame` says what the parts are."""

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
        The game, as the coach has said.
    number
        Which of its starts, from 1.
    curves
        Of everybody who is here.
    chosen
        Length and reason of everybody whose length the coach has set by itself.
    """
    game = occasion.game
    here = sorted(athlete for athlete, start in occasion.start_of if start == number)
    earlier = dict(occasion.earlier)
    curves = {code: limited(curves[code], earlier.get(code, 0.0)) for code in here}
    losses = _losses(occasion, number, here, curves)
    set_by_hand = {n: chosen[code][0] for n, code in enumerate(here) if code in chosen}
    before = game.prevention_minutes
    court = Court(
        before + game.general_minutes, game.gap_minutes, game.minutes_per_effort, game.staff
    )
    shorter = replace(court, lead_minutes=before + min(SHORTEST_GENERAL, game.general_minutes))
    lengths = day_lengths(losses, _waits(losses, occasion, here))
    own = np.array([each.volume for each in lengths])
    asked = occasion.waves[number - 1] if number <= len(occasion.waves) else None
    most = max(occasion.most_waves, asked or 0)
    waves = warm_ups(losses, court, own, set_by_hand, most)
    each_own = own_lengths(own, court, set_by_hand)
    if asked is None:
        found = each_own
        faster = own_lengths(own, shorter, set_by_hand)
    else:
        found = waves[min(asked, len(waves)) - 1]
        faster = warm_ups(losses, shorter, own, set_by_hand, most=min(asked, len(waves)))[-1]
    free = _free_minutes(game, number)
    advice = advice_rows(losses, lengths, game.gap_minutes, found.length, found.rest_minutes)
    start = _Start(occasion, number, here, curves, losses, lengths, found, advice, chosen)
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
    """Return what those who are here lose, with what an earlier game and the bench leave them."""
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
    """Return the wait that each length allows for: whoever sits tops up before coming on."""
    gap = occasion.game.gap_minutes
    sits = np.isin(here, occasion.bench)
    return np.where(sits, min(gap, losses.curves[0].usual.rest_minutes), gap)


def day_lengths(losses: SquadLosses, rest_minutes: npt.ArrayLike) -> list[Length]:
    """Return how much everybody does on the day, so many minutes before the start."""
    rests = np.broadcast_to(np.asarray(rest_minutes, dtype=float), len(losses.curves))
    return [
        length_of(
            curve,
            losses.to_follow,
            replace(losses.of_athlete(place), rest_minutes=float(rest)),
        )
        for place, (curve, rest) in enumerate(zip(losses.curves, rests, strict=True))
    ]


def advice_rows(
    losses: SquadLosses,
    lengths: Sequence[Length],
    rest_minutes: float,
    done: FloatArray,
    rest_after: FloatArray,
) -> pd.DataFrame:
    """Return everybody's length and what is set, and what both and the standard lose.

    Parameters
    ----------
    losses, lengths
        Of n athletes.
    rest_minutes
        Between the warm-up and the start.
    done, rest_after
        What each does, and the rest after it: arrays of shape (n,).

    Returns
    -------
    pandas.DataFrame
        The columns of `dashboard.game.advice.PlannedGame.advice`.
    """
    curves = losses.curves
    own = np.array([each.volume for each in lengths])
    standard = np.array([curve.standard_volume for curve in curves])
    top_up = np.array([[each.top_up] for each in lengths])
    lost_own = losses.lost(own[:, None], rest_minutes, top_up)
    rows = pd.DataFrame(
        {
            "athlete": [curve.athlete for curve in curves],
            "sessions": [curve.sessions for curve in curves],
            "efforts": [curve.efforts for curve in curves],
            "advised": own,
            "standard": standard,
            "set": done,
            "left_over": losses.left_over,
            "sure": (lost_own <= curves[0].worthwhile_pct).mean(axis=1),
        }
    )
    losts = {
        "lost_advised": lost_own,
        "lost_standard": losses.lost(standard[:, None], rest_minutes),
        "lost_set": losses.lost(done[:, None], rest_after[:, None], top_up),
    }
    for name, drawn in losts.items():
        found = estimates(drawn)
        rows[name] = [each.median for each in found]
        rows[f"{name}_low"] = [each.low for each in found]
        rows[f"{name}_high"] = [each.high for each in found]
    return rows


@dataclass(frozen=True)
class _Start:
    """What a start's waves and players are made of."""

    occasion: Occasion
    number: int
    here: list[str]
    curves: Mapping[str, CurveDraws]
    losses: SquadLosses
    lengths: list[Length]
    warm_up: GameWarmUp
    advice: pd.DataFrame
    chosen: Mapping[str, tuple[float, str]]

    def waves(self) -> tuple[GameWave, ...]:
        # What the wait would cost those who warm up as if there were none.
        lengths = self.losses.lengths(0.0)
        length = lengths[self.losses.pct(lengths, 0.0).argmin(axis=1)][:, None]
        waited = self.losses.drawn(length, self.warm_up.rest_minutes[:, None])
        cost = waited - self.losses.drawn(length, 0.0)
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
        around = self.losses.of_athlete(place)
        half_time = half_time_volume(self.losses.curves[place], length, around, game)
        # Whoever comes off the court has not waited yet.
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
            bench=bench_rows(limited(self.curves[athlete], half_time), length, around, rest)
            if again
            else (),
            top_up=self.lengths[place].top_up,
            half_time=half_time,
            earlier_volume=dict(occasion.earlier).get(athlete, 0.0),
        )


def _free_minutes(game: Game, number: int) -> float | None:
    if game.free_from is None:
        return None
    return (game.starts[number - 1] - game.free_from).total_seconds() / 60.0
