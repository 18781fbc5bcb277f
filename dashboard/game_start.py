"""One start of a game: its waves, everybody's length in them, and what both give away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboard import numbers
from dashboard.game_advice import SHORTEST_GENERAL, WAVE_REASON, Occasion, WaveChoice
from db.games import BenchRow, Game, GameWave, Interval, Player
from db.plans import PlanEntry
from modeling import CurveDraws, Estimate
from modeling.account import Circumstances
from modeling.bench_time import bench_times
from modeling.game_warm_up import Court, GameWarmUp, proposed, warm_ups
from modeling.goal_advice import ToFollow, advise
from modeling.squad_losses import SquadLosses, estimates, mean_estimate, squad_losses
from modeling.timeline import most_late

BENCH_MINUTES = (10.0, 20.0, 30.0, 40.0, 60.0)
"""A general part that is shorter is hardly one (common practice, no source)."""

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class PlannedStart:
    """A start with its waves; see `dashboard.game_advice.PlannedGame` for what the parts are."""

    number: int
    waves: tuple[GameWave, ...]
    players: tuple[Player, ...]
    choices: tuple[WaveChoice, ...]
    late_shorter_minutes: float
    advice: pd.DataFrame
    cost_pct: Interval | None


def planned_start(
    occasion: Occasion,
    number: int,
    curves: Mapping[str, CurveDraws],
    chosen: Mapping[str, PlanEntry],
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
        Lengths that the coach has set by themselves.
    """
    game = occasion.game
    here = sorted(athlete for athlete, start in occasion.start_of if start == number)
    losses = squad_losses(
        [curves[athlete] for athlete in here],
        ToFollow(game.goal, game.efforts_to_follow, minutes_per_effort=game.minutes_per_effort),
        circumstances(game, number),
        [occasion.general_minutes(athlete) for athlete in here],
    )
    own = {n: chosen[code].chosen_volume for n, code in enumerate(here) if code in chosen}
    court = Court(game.general_minutes, game.gap_minutes, game.minutes_per_effort, game.staff)
    found = warm_ups(losses, court, own)
    asked = occasion.waves[number - 1] if number <= len(occasion.waves) else None
    if asked is None:
        place = proposed(found[: game.staff], losses.curves[0].worthwhile_pct)
    else:
        place = min(asked, len(found)) - 1
    free = _free_minutes(game, number)
    late = most_late(found[place].turns, free)
    shorter = replace(court, general_minutes=min(SHORTEST_GENERAL, court.general_minutes))
    if late:
        late = most_late(warm_ups(losses, shorter, own, most=place + 1)[-1].turns, free)
    advice = advice_rows(losses, game.gap_minutes, found[place].length, found[place].rest_minutes)
    start = _Start(occasion, number, here, losses, found[place], advice, chosen)
    return PlannedStart(
        number=number,
        waves=start.waves(),
        players=start.players(),
        choices=tuple(_choice(each, free) for each in found),
        late_shorter_minutes=late,
        advice=advice,
        cost_pct=_interval(found[place].cost_pct),
    )


def circumstances(game: Game, number: int) -> Circumstances:
    """Return what is around the warm-up before a start of a game."""
    at = game.starts[number - 1]
    hour = at.hour + at.minute / 60.0
    return Circumstances(game.general_minutes, game.gap_minutes, game.ambient_c, hour)


def advice_rows(
    losses: SquadLosses, rest_minutes: float, length: FloatArray, rest_at_length: FloatArray
) -> pd.DataFrame:
    """Return what is advised and what is set, and what both and the standard give away.

    Parameters
    ----------
    losses
        Of n athletes.
    rest_minutes
        Between the warm-up and the start.
    length, rest_at_length
        What each does, and the rest after it: arrays of shape (n,).

    Returns
    -------
    pandas.DataFrame
        The columns of `dashboard.game_advice.PlannedGame.advice`.
    """
    curves = losses.curves
    advised = np.array(
        [
            advise(
                curve,
                losses.to_follow,
                replace(losses.around, general_minutes=general, rest_minutes=rest_minutes),
            ).volume
            for curve, general in zip(curves, losses.general_minutes, strict=True)
        ]
    )
    standard = np.array([curve.standard_volume for curve in curves])
    least = losses.least(rest_minutes)
    lost_advised = losses.drawn(advised[:, None], rest_minutes) - least
    rows = pd.DataFrame(
        {
            "athlete": [curve.athlete for curve in curves],
            "sessions": [curve.sessions for curve in curves],
            "efforts": [curve.efforts for curve in curves],
            "advised": advised,
            "standard": standard,
            "set": length,
            "sure": (lost_advised <= curves[0].worthwhile_pct).mean(axis=1),
        }
    )
    losts = {
        "lost_advised": lost_advised,
        "lost_standard": losses.drawn(standard[:, None], rest_minutes) - least,
        "lost_set": losses.drawn(length[:, None], rest_at_length[:, None]) - least,
    }
    for name, drawn in losts.items():
        # Best lengths are found on steps of an effort, so that less than nothing may be lost.
        found = estimates(np.maximum(drawn, 0.0))
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
    losses: SquadLosses
    warm_up: GameWarmUp
    advice: pd.DataFrame
    chosen: Mapping[str, PlanEntry]

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
                _interval(mean_estimate(cost[self.warm_up.wave == place])),
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
                reason=own.reason if own else reason,
            ),
            role="bench" if waits else "starts",
            start_number=self.number,
            wave=wave,
            own_length=own is not None,
            general_minutes=occasion.general_minutes(athlete),
            loss_pct=(row["lost_set"], row["lost_set_low"], row["lost_set_high"]),
            bench=self._bench(place, length) if waits else (),
        )

    def _bench(self, place: int, length: float) -> tuple[BenchRow, ...]:
        """Return the re-warm-up after some minutes of the game."""
        rest = float(self.warm_up.rest_minutes[place])
        general = float(self.losses.general_minutes[place])
        around = replace(self.losses.around, general_minutes=general)
        minutes = tuple(rest + minute for minute in BENCH_MINUTES)
        return tuple(
            BenchRow(row.rest_minutes, row.volume, _interval(row.cost_pct) or (0.0, 0.0, 0.0))
            for row in bench_times(self.losses.curves[place], length, around, minutes)
        )


def _choice(warm_up: GameWarmUp, free_minutes: float | None) -> WaveChoice:
    return WaveChoice(
        waves=len(warm_up.volumes),
        cost_pct=_interval(warm_up.cost_pct),
        begins_minutes=max(turn.begins for turn in warm_up.turns),
        late_minutes=most_late(warm_up.turns, free_minutes),
    )


def _free_minutes(game: Game, number: int) -> float | None:
    if game.free_from is None:
        return None
    return (game.starts[number - 1] - game.free_from).total_seconds() / 60.0


def _interval(found: Estimate | None) -> Interval | None:
    return None if found is None else (found.median, found.low, found.high)
