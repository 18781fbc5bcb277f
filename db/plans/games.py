"""Planned games: the occasion, the waves of the warm-up and who is in which wave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import insert
from db.file.store import Store
from db.plans.game_course import Course, check_course
from db.plans.lengths import PlanEntry, insert_choice
from db.plans.start_words import START_WORDS
from db.tables.cells import LEAST_GENERAL_MINUTES

__all__ = [
    "MOST_PREVENTION_MINUTES",
    "PLACES",
    "ROLES",
    "BenchRow",
    "Game",
    "GameWave",
    "Interval",
    "Player",
    "lapse",
    "save_game",
]

PLACES = ("hall", "outdoors")
ROLES = ("starts", "bench")
MOST_PREVENTION_MINUTES = 60.0
Interval = tuple[float, float, float]
"""A median with the ends of its 90 % interval."""


@dataclass(frozen=True)
class GameWave:
    """A wave: athletes who do the same length at the same time.

    Attributes
    ----------
    start_number, wave : int
        Number of the start, and of the wave before it, both from 1.
    volume : float
        Its length.
    rest_minutes : float
        From its end to the start.
    gap_cost_pct : Interval or None
        What is lost on average to that rest, against none.
    """

    start_number: int
    wave: int
    volume: float
    rest_minutes: float
    gap_cost_pct: Interval | None = None


@dataclass(frozen=True)
class BenchRow:
    """The re-warm-up of somebody on the bench, some minutes after the warm-up.

    Attributes
    ----------
    rest_minutes, volume : float
    cost_pct : Interval
        What is lost by going on without it.
    """

    rest_minutes: float
    volume: float
    cost_pct: Interval


@dataclass(frozen=True)
class Player:
    """Somebody who warms up for a game.

    Attributes
    ----------
    plan : PlanEntry
        What is advised and set.
    role : {"starts", "bench"}
    start_number, wave : int
    own_length : bool
        Whether the coach set a length for this athlete alone, not that of the wave.
    general_minutes : float
    loss_pct : Interval or None
        What is expected to be lost with the length set.
    bench : tuple of BenchRow
    top_up : float
        What is done again just before the start, after a long wait.
    half_time : float
        What is done again at the end of half-time.
    earlier_volume : float
        What was done before an earlier game of the day.
    filled_up : bool
        Whether easy efforts follow because no more of the others are allowed; not saved, but
        worked out when a plan is read.
    """

    plan: PlanEntry
    role: str
    start_number: int
    wave: int
    own_length: bool
    general_minutes: float
    loss_pct: Interval | None = None
    bench: tuple[BenchRow, ...] = ()
    top_up: float = 0.0
    half_time: float = 0.0
    earlier_volume: float = 0.0
    filled_up: bool = False


@dataclass(frozen=True)
class Game:
    """A game and its warm-up; fields not described here are those of the table `game`.

    `prevention_minutes` of injury prevention come before the general part; 0 means within it.
    `start_word` is what the club calls a start now; it is not saved with the game.
    """

    measure: str
    day: date
    goal: str
    efforts_to_follow: int
    place: str
    ambient_c: float
    general_minutes: float
    minutes_per_effort: float
    gap_minutes: float
    free_from: datetime | None
    staff: int
    grouping_cost_pct: Interval | None
    starts: tuple[datetime, ...]
    waves: tuple[GameWave, ...]
    players: tuple[Player, ...]
    prevention_minutes: float = 0.0
    course: Course = Course()
    start_word: str = START_WORDS[0]


_PARTS = ("starts", "waves", "players", "prevention_minutes", "course", "start_word")


def save_game(store: Store, game: Game, person: str) -> int:
    """Save the plan of a game and return its number; earlier plans of it are kept.

    It replaces the plans of the same day and measure that share an athlete with it. Athletes in
    one of those plans but not in this one are away. The plan of a second game does not replace
    that of the day's first, and the other way round.

    Raises
    ------
    BadInput
        If a part does not fit the others, or a value is not allowed.
    """
    _check(game)
    with store.writing(person, "save game", f"{game.day} {game.measure}") as cursor:
        left_out = _left_out(cursor, game)
        row = _spread("grouping_cost_pct", game.grouping_cost_pct) | {
            field.name: getattr(game, field.name)
            for field in fields(game)
            if field.name not in (*_PARTS, "grouping_cost_pct")
        }
        names = ", ".join(row)
        (number,) = cursor.execute(
            f"INSERT INTO game ({names}, person) VALUES ({', '.join('?' for _ in row)}, ?) "
            "RETURNING game_id",
            [*row.values(), person],
        ).fetchall()[0]
        _insert_parts(cursor, int(number), game)
        players = [_player_row(cursor, player, person) for player in game.players]
        away = [{"athlete": athlete, "role": "away"} for athlete in left_out]
        lapse(cursor, game, left_out)
        insert(cursor, "game_athlete", pd.DataFrame([*players, *away]).assign(game_id=number))
        return int(number)


def lapse(cursor: duckdb.DuckDBPyConnection, game: Game, athletes: Sequence[str]) -> None:
    """Let the lengths set for some athletes of a game lapse, within a unit of work.

    Lengths with a record of what was done stay. So do those of a trial, which were drawn.
    """
    cursor.execute(
        "INSERT INTO lapsed_plan SELECT plan_id, athlete FROM plan_in_force WHERE day = ? "
        "AND measure = ? AND second_game = ? AND list_contains(?, athlete) "
        "AND done_volume IS NULL AND plan_id NOT IN (SELECT plan_id FROM trial_session)",
        [game.day, game.measure, game.course.second_game, list(athletes)],
    )


def _check(game: Game) -> None:
    if not game.starts or not game.players:
        raise BadInput("A game needs a time to start and at least one athlete.")
    if game.place not in PLACES:
        raise BadInput(f"There is no place '{game.place}'. The places are {', '.join(PLACES)}.")
    least = min(game.general_minutes, *(player.general_minutes for player in game.players))
    if not least >= LEAST_GENERAL_MINUTES:
        raise BadInput(
            f"The general part has {least:g} minutes; it must have {LEAST_GENERAL_MINUTES:g} or "
            "more. Nobody begins cold."
        )
    if not 0 <= game.prevention_minutes <= MOST_PREVENTION_MINUTES:
        raise BadInput(
            f"Injury prevention has {game.prevention_minutes:g} minutes; it must have 0 to "
            f"{MOST_PREVENTION_MINUTES:g}."
        )
    if any(start.date() != game.day for start in game.starts):
        raise BadInput("Every start must be on the day of the game.")
    check_course(game.course, game.starts[0])
    waves = {(wave.start_number, wave.wave) for wave in game.waves}
    for player in game.players:
        if player.role not in ROLES:
            raise BadInput(f"There is no role '{player.role}'. They are {', '.join(ROLES)}.")
        if not 1 <= player.start_number <= len(game.starts):
            raise BadInput(f"There is no start {player.start_number} of this game.")
        if (player.start_number, player.wave) not in waves:
            raise BadInput(f"There is no wave {player.wave} before start {player.start_number}.")
        if (player.plan.day, player.plan.measure) != (game.day, game.measure):
            raise BadInput("Every choice must be for the day and the measure of the game.")
        if player.plan.second_game != game.course.second_game:
            raise BadInput("Every choice must be for the same game of the day.")


def _left_out(cursor: duckdb.DuckDBPyConnection, game: Game) -> list[str]:
    """List who is in the plans that this one replaces, but not in this one."""
    rows = cursor.execute(
        "SELECT athlete, game_id FROM game_in_force WHERE day = ? AND measure = ? "
        "AND (earlier_ended_at IS NOT NULL) = ?",
        [game.day, game.measure, game.course.second_game],
    ).fetchall()
    here = {player.plan.athlete for player in game.players}
    replaced = {number for athlete, number in rows if athlete in here}
    return [athlete for athlete, number in rows if number in replaced and athlete not in here]


def _insert_parts(cursor: duckdb.DuckDBPyConnection, number: int, game: Game) -> None:
    starts = [
        {"start_number": place, "starts_at": at} for place, at in enumerate(game.starts, start=1)
    ]
    waves = [asdict(wave) | _spread("gap_cost_pct", wave.gap_cost_pct) for wave in game.waves]
    bench = [
        {"athlete": player.plan.athlete, **asdict(row), **_spread("cost_pct", row.cost_pct)}
        for player in game.players
        for row in player.bench
    ]
    parts = {
        "game_start": starts,
        "game_wave": waves,
        "game_bench": bench,
        "game_prevention": [{"prevention_minutes": game.prevention_minutes}],
        "game_course": [asdict(game.course)],
    }
    for table, rows in parts.items():
        if rows:
            insert(cursor, table, pd.DataFrame(rows).assign(game_id=number))


def _player_row(
    cursor: duckdb.DuckDBPyConnection, player: Player, person: str
) -> dict[str, object]:
    return {
        "athlete": player.plan.athlete,
        "role": player.role,
        "start_number": player.start_number,
        "wave": player.wave,
        "own_length": player.own_length,
        "general_minutes": player.general_minutes,
        "plan_id": _choice(cursor, player.plan, person),
        "top_up": player.top_up,
        "half_time_volume": player.half_time,
        "earlier_volume": player.earlier_volume,
        **_spread("loss_pct", player.loss_pct),
    }


def _choice(cursor: duckdb.DuckDBPyConnection, plan: PlanEntry, person: str) -> int:
    """Return the number of the choice in force if it says the same, else of a new one."""
    names = [field.name for field in fields(plan)]
    same = " AND ".join(f"{name} IS NOT DISTINCT FROM ?" for name in names)
    rows = cursor.execute(
        f"SELECT plan_id FROM plan_in_force WHERE {same}", [getattr(plan, name) for name in names]
    ).fetchall()
    return int(rows[0][0]) if rows else insert_choice(cursor, plan, person)


def _spread(name: str, interval: Interval | None) -> dict[str, float | None]:
    """Return the three columns of an interval."""
    values = (None, None, None) if interval is None else interval
    return dict(zip((name, f"{name}_low", f"{name}_high"), values, strict=True))
