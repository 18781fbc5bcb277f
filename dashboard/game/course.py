"""How a game runs for each athlete: half-time, substitutions, what is left of an earlier game."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from math import floor, isinf
from typing import TYPE_CHECKING

from db.plans.games import BenchRow, Game, Player

if TYPE_CHECKING:
    from modeling import CurveDraws
    from modeling.curve.account import Circumstances
    from modeling.curve.to_follow import ToFollow

COMING_ON_MINUTES = 30.0
"""What a substitute saves up for coming on is enough for a wait this long (common practice)."""
BEFORE_COMING_ON = 0.6
"""Share of the most that a substitute may always do before the game (common practice)."""
BENCH_MINUTES = (10.0, 20.0, 30.0, 40.0, 60.0)
HALF_TIME_MINUTES = 10.0
"""Default (common practice, no source)."""
MOST_AT_HALF_TIME = 5.0
"""Most efforts at half-time: they wake up, they do not warm up again (common practice)."""


def work_to_follow(game: Game) -> ToFollow:
    """Return the work that a game's warm-up is for."""
    from modeling.curve.to_follow import ToFollow

    return ToFollow(
        game.goal,
        game.efforts_to_follow,
        minutes_per_effort=game.minutes_per_effort,
        recovery_seconds=game.course.recovery_seconds,
    )


def circumstances(game: Game, number: int) -> Circumstances:
    """Return the circumstances of the warm-up before one start of a game."""
    from modeling.curve.account import Circumstances

    at = game.starts[number - 1]
    hour = at.hour + at.minute / 60.0
    return Circumstances(game.general_minutes, game.gap_minutes, game.ambient_c, hour)


def earlier_volumes(
    kept: Iterable[Game], ended_at: datetime | None, recorded: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Return what was done for an earlier game of the day, by athlete.

    Parameters
    ----------
    kept
        The day's saved games. What the earlier game's own plan says overrides what the second
        game's plan remembers of it.
    ended_at
        When the earlier game ended; None if there was none.
    recorded
        What was recorded as done in the warm-up before it, by athlete; this overrides its plan.
    """
    done: dict[str, float] = {}
    if ended_at is None:
        return done
    for game in sorted(kept, key=lambda each: each.course.second_game, reverse=True):
        for player in game.players:
            if game.course.second_game:
                done[player.plan.athlete] = player.earlier_volume
            elif game.starts[player.start_number - 1] < ended_at:
                done[player.plan.athlete] = done_before(player, recorded or {})
    return done


def done_before(player: Player, recorded: Mapping[str, float]) -> float:
    """Return what an athlete does for a game: the warm-up, and what comes again.

    Only the warm-up is ever recorded; what comes again counts as planned.
    """
    warm_up = recorded.get(player.plan.athlete, player.plan.chosen_volume)
    return warm_up + player.top_up + player.half_time


def limited(curve: CurveDraws, earlier: float) -> CurveDraws:
    """Return a curve with the day's most, less what is already done."""
    limits = curve.limits
    left = max(limits.most_allowed - earlier, 0.0)
    return replace(curve, limits=replace(limits, most_allowed=left))


def before_coming_on(curve: CurveDraws, around: Circumstances) -> CurveDraws:
    """Return a substitute's curve with a lower most, so some is left for coming on."""
    from modeling.day.bench_time import bench_times

    most = curve.limits.most
    if isinf(most):
        return curve
    least = float(floor(BEFORE_COMING_ON * most))
    [coming_on] = bench_times(curve, least, around, (COMING_ON_MINUTES,))
    return replace(curve, limits=replace(curve.limits, most_allowed=most - coming_on.volume))


def left_over(game: Game, number: int, curve: CurveDraws, earlier: float) -> float:
    """Return what is left of an earlier warm-up of the day when this one ends.

    It counts in full until the earlier game ends, as playing keeps athletes warm (common practice,
    no source). Then it fades, except during this warm-up's prevention and general part.
    """
    ended_at = game.course.earlier_ended_at
    if ended_at is None or not earlier:
        return 0.0
    since = (game.starts[number - 1] - ended_at).total_seconds() / 60.0 - game.gap_minutes
    still = max(since - game.general_minutes - game.prevention_minutes, 0.0)
    share = 2.0 ** (-still / curve.account.half_life_minutes)
    whole = earlier + curve.account.general_per_minute * game.general_minutes
    return float(share * whole)


def half_time_volume(curve: CurveDraws, done: float, around: Circumstances, game: Game) -> float:
    """Return what an athlete does again at the end of half-time.

    Players are assumed to be as warm when half-time begins as after their warm-up (common
    practice, no source).
    """
    from modeling.day.bench_time import bench_times

    minutes = game.course.half_time_minutes
    if not minutes:
        return 0.0
    [row] = bench_times(curve, done, around, (minutes,))
    return min(row.volume, MOST_AT_HALF_TIME)


def bench_rows(
    curve: CurveDraws, done: float, around: Circumstances, rest_minutes: float
) -> tuple[BenchRow, ...]:
    """Return what is done again after minutes on the bench, on top of `rest_minutes` of waiting."""
    from modeling.day.bench_time import bench_times

    minutes = tuple(rest_minutes + minute for minute in BENCH_MINUTES)
    return tuple(
        BenchRow(
            row.rest_minutes,
            row.volume,
            (row.cost_pct.median, row.cost_pct.low, row.cost_pct.high),
        )
        for row in bench_times(curve, done, around, minutes)
    )
