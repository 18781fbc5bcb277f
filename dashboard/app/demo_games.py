"""The demo's games: those already played, with what was done, and the next one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time

import pandas as pd

from dashboard.app.demo_days import DemoDays
from dashboard.fits.kept_curves import kept_draws
from dashboard.game.advice import (
    GAP_MINUTES,
    GENERAL_MINUTES,
    PREVENTION_MINUTES,
    STAFF,
    Occasion,
    plan_game,
    usual_game,
)
from dashboard.rules.game_work import game_work
from dashboard.rules.protocol_words import LEAST_PACE_MINUTES
from db.file.store import Store
from db.plans.games import Game, GameWave, Player, save_game
from db.plans.kept_games import kept_games
from db.plans.lengths import PlanEntry
from db.roster.measures import get_measure
from demo_team.club import USUAL

MEASURE = "jump_height"
"""The measure that the squad plans its warm-up before a game by."""
THROW_OFF = time(18)


def save_played(store: Store, days: DemoDays, plans: Sequence[PlanEntry], person: str) -> None:
    """Save the games whose lengths were set, from the plans that are already saved."""
    squads = days.rows_of("games.csv").set_index(["day", "athlete"])["role"]
    by_day: dict[date, list[PlanEntry]] = {}
    for plan in plans:
        if plan.measure == MEASURE and (plan.day.isoformat(), plan.athlete) in squads.index:
            by_day.setdefault(plan.day, []).append(plan)
    for day, own in by_day.items():
        save_game(store, _played(day, own, squads), person)


def save_coming(store: Store, person: str, today: date | None = None) -> None:
    """Plan the next game from the curves, with everybody at their own length, and save it.

    Does nothing if it is already planned or there are no curves yet.
    """
    days = DemoDays(today or date.today())
    day = days.coming_game
    # Keep the file open, so that it is not opened again for each question.
    with store.reading():
        curves = kept_draws(store, MEASURE)
        if kept_games(store, day, MEASURE) or not curves:
            return
        squad = days.rows_of("games.csv").query("day == @day.isoformat()")
        measure, starts = get_measure(store, MEASURE), (datetime.combine(day, THROW_OFF),)
        game = usual_game(MEASURE, day, starts, curves, game_work(store, measure))
        occasion = Occasion(
            game,
            tuple((athlete, 1) for athlete in squad["athlete"]),
            bench=tuple(squad.loc[squad["role"] == "bench", "athlete"]),
        )
        save_game(store, plan_game(store, occasion, curves).game, person)


def _played(day: date, plans: list[PlanEntry], squads: pd.Series) -> Game:
    lengths = pd.Series([plan.chosen_volume for plan in plans])
    return Game(
        measure=MEASURE,
        day=day,
        goal=plans[0].goal,
        efforts_to_follow=plans[0].efforts_to_follow,
        place="hall",
        ambient_c=USUAL.ambient_c,
        general_minutes=GENERAL_MINUTES,
        minutes_per_effort=LEAST_PACE_MINUTES,
        gap_minutes=GAP_MINUTES,
        free_from=None,
        staff=STAFF,
        grouping_cost_pct=None,
        starts=(datetime.combine(day, THROW_OFF),),
        waves=(GameWave(1, 1, float(lengths.mode()[0]), GAP_MINUTES),),
        players=tuple(
            Player(
                plan=plan,
                role=str(squads[day.isoformat(), plan.athlete]),
                start_number=1,
                wave=1,
                own_length=bool(plan.reason),
                general_minutes=GENERAL_MINUTES,
            )
            for plan in plans
        ),
        prevention_minutes=PREVENTION_MINUTES,
    )
