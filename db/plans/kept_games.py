"""Games as they were saved, read back from their rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store
from db.plans.game_course import Course
from db.plans.games import BenchRow, Game, GameWave, Interval, Player
from db.plans.lengths import PlanEntry
from db.plans.start_words import start_word


@dataclass(frozen=True)
class KeptGame:
    """A saved game: its number, when and by whom it was saved, and the athletes still in it.

    Attributes
    ----------
    game_id : int
    saved_at : datetime
        In UTC.
    person : str
    game : Game
    """

    game_id: int
    saved_at: datetime
    person: str
    game: Game


def game_rows(
    store: Store,
    day: date | None = None,
    measure: str | None = None,
    since: datetime | None = None,
) -> pd.DataFrame:
    """List who warms up for games, by the newest plan of each day, measure and athlete.

    The first and the second game of a day have a plan each.

    Parameters
    ----------
    store : Store
    day : date, optional
        None is every day.
    measure : str, optional
        None is every measure.
    since : datetime, optional
        Only starts from then on.

    Returns
    -------
    DataFrame
        The columns of the view `game_in_force`, by start, wave and name.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM game_in_force WHERE ($1 IS NULL OR day = $1) "
            "AND ($2 IS NULL OR measure = $2) AND ($3 IS NULL OR starts_at >= $3) "
            "ORDER BY starts_at, measure, game_id, start_number, wave, name, athlete",
            [day, measure, since],
        )


def kept_games(
    store: Store,
    day: date | None = None,
    measure: str | None = None,
    since: datetime | None = None,
) -> list[KeptGame]:
    """List the games in force by their first start; parameters as for `game_rows`.

    A game has only the athletes without a newer plan for that day, measure and kind (first or
    second game), and the starts and waves that they need.
    """
    rows = game_rows(store, day, measure, since)
    numbers = [int(number) for number in rows["game_id"].unique()]
    with store.reading() as cursor:
        bench = fetch(
            cursor,
            "SELECT * FROM game_bench WHERE list_contains($1, game_id) ORDER BY ALL",
            [numbers],
        )
        prevention = dict(cursor.execute("SELECT * FROM game_prevention").fetchall())
    again = {
        key: tuple(
            BenchRow(each["rest_minutes"], each["volume"], _interval(each, "cost_pct") or (0, 0, 0))
            for each in group.to_dict("records")
        )
        for key, group in bench.groupby(["game_id", "athlete"])
    }
    said = start_word(store)
    kept = [
        _kept(number, rows[rows["game_id"] == number].to_dict("records"), again)
        for number in numbers
    ]
    return [
        replace(
            each,
            game=replace(
                each.game,
                prevention_minutes=prevention.get(each.game_id, 0.0),
                start_word=said,
            ),
        )
        for each in kept
    ]


def _kept(
    number: int, rows: list[dict[Any, Any]], again: dict[Any, tuple[BenchRow, ...]]
) -> KeptGame:
    first = rows[0]
    starts = sorted({row["start_number"]: row["starts_at"] for row in rows}.items())
    place = {start: at for at, (start, _) in enumerate(starts, start=1)}
    waves = {(row["start_number"], row["wave"]): row for row in rows}
    game = Game(
        measure=first["measure"],
        day=first["day"].date(),
        goal=first["goal"],
        efforts_to_follow=int(first["efforts_to_follow"]),
        place=first["place"],
        ambient_c=first["ambient_c"],
        general_minutes=first["usual_general_minutes"],
        minutes_per_effort=first["minutes_per_effort"],
        gap_minutes=first["gap_minutes"],
        free_from=_moment(first["free_from"]),
        staff=int(first["staff"]),
        grouping_cost_pct=_interval(first, "grouping_cost_pct"),
        starts=tuple(at.to_pydatetime() for _, at in starts),
        waves=tuple(
            GameWave(
                place[start],
                int(wave),
                row["wave_volume"],
                row["rest_minutes"],
                _interval(row, "gap_cost_pct"),
            )
            for (start, wave), row in sorted(waves.items())
        ),
        players=tuple(
            _player(row, place[row["start_number"]], again.get((number, row["athlete"]), ()))
            for row in sorted(rows, key=lambda row: row["athlete"])
        ),
        course=Course(
            first["recovery_seconds"],
            first["half_time_minutes"],
            bool(first["rolling"]),
            _moment(first["earlier_ended_at"]),
        ),
    )
    saved = first["saved_at"].tz_convert("UTC").to_pydatetime()
    return KeptGame(number, saved, first["person"], game)


def _player(row: dict[Any, Any], start_number: int, bench: tuple[BenchRow, ...]) -> Player:
    return Player(
        plan=PlanEntry(
            day=row["day"].date(),
            athlete=row["athlete"],
            measure=row["measure"],
            goal=row["goal"],
            efforts_to_follow=int(row["efforts_to_follow"]),
            advised_volume=_known(row["advised_volume"]),
            standard_volume=_known(row["standard_volume"]),
            chosen_volume=row["chosen_volume"],
            reason=row["reason"],
            second_game=not pd.isna(row["earlier_ended_at"]),
        ),
        role=row["role"],
        start_number=start_number,
        wave=int(row["wave"]),
        own_length=bool(row["own_length"]),
        general_minutes=row["general_minutes"],
        loss_pct=_interval(row, "loss_pct"),
        bench=bench,
        top_up=row["top_up"],
        half_time=row["half_time_volume"],
        earlier_volume=row["earlier_volume"],
    )


def _moment(value: pd.Timestamp) -> datetime | None:
    return None if pd.isna(value) else value.to_pydatetime()


def _known(value: float) -> float | None:
    return None if pd.isna(value) else value


def _interval(row: dict[Any, Any], name: str) -> Interval | None:
    values = row[name], row[f"{name}_low"], row[f"{name}_high"]
    return None if any(pd.isna(value) for value in values) else values
