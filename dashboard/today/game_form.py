"""What a coach says about a game: where, when, who starts, who waits, who needs longer."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.game.advice import SLOW_MINUTES, Occasion, clock_time, usual_game
from dashboard.game.course import earlier_volumes
from dashboard.game.words import clock
from dashboard.rules.game_work import GameWork
from dashboard.rules.protocol_words import pace_minutes
from dashboard.screen import selection
from dashboard.screen.reads import ask
from dashboard.today.day_games import DayGames
from db.errors import BadInput
from db.plans.game_course import LONGEST_HALF_TIME_MINUTES, Course, check_course, last_course
from db.plans.games import MOST_PREVENTION_MINUTES, PLACES, Game
from db.plans.outcomes import done_volumes
from db.plans.start_words import start_word
from db.roster.protocols import protocol_of
from db.tables.cells import LEAST_GENERAL_MINUTES

if TYPE_CHECKING:
    from modeling import CurveDraws

MOST_STARTS = 12
PLACE_NAMES = {"hall": "Hall", "outdoors": "Outdoors"}


def start_times(text: str, day: date) -> tuple[datetime, ...]:
    """Return the starts that were typed, in order; none if nothing was typed.

    Raises
    ------
    BadInput
        If one is not a time of day, or there are too many.
    """
    typed = [part for part in re.split(r"[\s,;]+|and", text) if part]
    starts = tuple(sorted({clock_time(part, day) for part in typed}))
    if len(starts) > MOST_STARTS:
        raise BadInput(f"There can be {MOST_STARTS} starts on a day. {len(starts)} were typed.")
    return starts


def game_form(
    measure: str,
    starts: tuple[datetime, ...],
    goal: str,
    work: GameWork,
    day_games: DayGames,
    names: Mapping[str, str],
    curves: Mapping[str, CurveDraws],
    key: str,
    away: frozenset[str],
) -> Occasion:
    """Ask for the details of a game, filled in with what is saved.

    Parameters
    ----------
    measure
        Code of the measure that leads.
    starts
        Starts, one or more.
    goal, work
        The goal, and the efforts to follow with the recovery between two of them.
    day_games
        The day's saved games, and which of them this is.
    names
        Names by code of all who may be here.
    curves
        Saved curves, which hold the usual temperature.
    key
        Tells the forms of different days, measures and saved plans apart.
    away
        Codes of those who are not here.

    Raises
    ------
    BadInput
        If a time cannot be read, or a second game does not say when the earlier
        one ended.
    """
    kept = day_games.pattern
    before = kept
    if before is None:
        pace = pace_minutes(ask(protocol_of, selection.measures_by_code()[measure]))
        before = usual_game(measure, starts[0].date(), starts, curves, work, pace, ask(start_word))
        before = replace(before, course=ask(last_course, before.course))
    game = _facts(replace(before, starts=starts), key)
    course = _course(game, work, day_games, key)
    game = replace(game, goal=goal, efforts_to_follow=work.efforts, waves=(), players=())
    game = replace(game, grouping_cost_pct=None, course=course)
    recorded = ask(done_volumes, game.day, measure, second_game=False)
    earlier = earlier_volumes(day_games.games, course.earlier_ended_at, recorded)
    here = {code: name for code, name in names.items() if code not in away}
    said = _people(game, kept, here, key)
    return replace(said, earlier=tuple(sorted(earlier.items())))


def _facts(game: Game, key: str) -> Game:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        place = st.selectbox(
            "Where",
            PLACES,
            PLACES.index(game.place),
            format_func=lambda code: PLACE_NAMES[code],
            key=f"game_place_{key}",
        )
        ambient = _number("Temperature, °C", (-50.0, 60.0), game.ambient_c, f"game_air_{key}")
        gap = _number(
            "Minutes before the start without warm-up",
            (0.0, 240.0),
            game.gap_minutes,
            f"game_gap_{key}",
            "Ceremony, speeches, lining up: from the last effort to the start.",
        )
        prevention = _number(
            "Injury prevention, min",
            (0.0, MOST_PREVENTION_MINUTES),
            game.prevention_minutes,
            f"game_prevention_{key}",
            "For everybody, before the general part (usual: 5, common practice). With 0 it is"
            " within the general part.",
        )
        general = _number(
            "General part, min",
            (LEAST_GENERAL_MINUTES, 240.0),
            max(game.general_minutes, LEAST_GENERAL_MINUTES),
            f"game_general_{key}",
            "8 to 15 minutes before a game: about 5 of jogging and 7 of dynamic work (Silva et"
            " al. 2018).",
        )
        seconds = _number(
            "Seconds for each unit",
            (1.0, 3600.0),
            60.0 * game.minutes_per_effort,
            f"game_seconds_{key}",
            step=5.0,
        )
        free = st.text_input(
            "Court free from",
            "" if game.free_from is None else clock(game.free_from),
            key=f"game_free_{key}",
            placeholder="always",
        )
        staff = st.number_input("Staff who lead", 1, 10, game.staff, key=f"game_staff_{key}")
    return replace(
        game,
        place=place,
        ambient_c=float(ambient),
        gap_minutes=float(gap),
        prevention_minutes=float(prevention),
        general_minutes=float(general),
        minutes_per_effort=float(seconds) / 60.0,
        free_from=clock_time(free, game.starts[0].date()) if free.strip() else None,
        staff=int(staff),
    )


def _number(
    label: str,
    limits: tuple[float, float],
    value: float,
    key: str,
    meaning: str | None = None,
    step: float = 1.0,
) -> float:
    return st.number_input(label, *limits, value, step, format="%g", key=key, help=meaning)


def _course(game: Game, work: GameWork, day_games: DayGames, key: str) -> Course:
    before, ended = game.course, ""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        half_time = _number(
            "Half-time, min",
            (0.0, LONGEST_HALF_TIME_MINUTES),
            before.half_time_minutes,
            f"game_half_{key}",
            "0 without one. Everybody moves again before it ends.",
        )
        if day_games.second or not day_games.games:
            ended = st.text_input(
                "Earlier game today, ended at",
                "" if before.earlier_ended_at is None else clock(before.earlier_ended_at),
                key=f"game_earlier_{key}",
                placeholder="13:20" if day_games.second else "none",
                help="For a second game of the day. What was planned before the earlier one counts"
                " towards the day's most; its plan stays as it is.",
            )
        rolling = st.checkbox(
            "Rolling substitutions",
            before.rolling,
            key=f"game_rolling_{key}",
            help="Substitutes come and go, so that everybody is on the bench at times.",
        )
    if day_games.second and not ended.strip():
        raise BadInput("Say under 'Earlier game today, ended at' when the day's first game ended.")
    course = Course(
        work.recovery_seconds,
        float(half_time),
        rolling,
        clock_time(ended, game.starts[0].date()) if ended.strip() else None,
    )
    check_course(course, game.starts[0])
    return course


def _people(game: Game, kept: Game | None, here: Mapping[str, str], key: str) -> Occasion:
    players = {player.plan.athlete: player for player in kept.players} if kept else {}
    with st.container(horizontal=True):
        waiting = [code for code, player in players.items() if player.role == "bench"]
        bench = _choose("Substitutes", here, waiting, key)
        longer = [
            code
            for code, player in players.items()
            if kept and player.general_minutes > kept.general_minutes
        ]
        slow = _choose(f"Stiff or slow to start: {SLOW_MINUTES:g} min general", here, longer, key)
    start_of = dict.fromkeys(here, 1)
    for number, start in enumerate(game.starts[1:], start=2):
        was = [code for code, player in players.items() if player.start_number == number]
        free = {code: name for code, name in here.items() if start_of[code] == 1}
        start_of |= dict.fromkeys(
            _choose(f"In the start at {clock(start)}", free, was, key), number
        )
    return Occasion(game, tuple(start_of.items()), tuple(bench), tuple(slow))


def _choose(label: str, names: Mapping[str, str], chosen: list[str], key: str) -> list[str]:
    return st.multiselect(
        label,
        list(names),
        [code for code in chosen if code in names],
        format_func=lambda code: names[code],
        key=f"game_{label}_{key}",
        placeholder="Nobody",
    )
