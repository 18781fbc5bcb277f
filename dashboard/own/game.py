"""An athlete's own next game: when to begin, how much to do, when to be ready."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import streamlit as st

from dashboard.core import dates, numbers
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.lines import Line, WaveLines, wave_lines
from dashboard.rules.club_limits import may_be_done
from dashboard.screen import elements, selection
from dashboard.screen.reads import ask
from db.file.store import Store
from db.plans.games import Game
from db.plans.kept_games import KeptGame, kept_games

STILL_SHOWN = timedelta(hours=3)
"""A game is shown until so long after its start, for those who come on late."""


def show_own_games(athlete: str) -> None:
    """Show the line of an athlete in every game that is still to come; nothing without one.

    Of two games on a day it is the next one.
    """
    now = datetime.now()
    today = datetime.combine(now.date(), datetime.min.time())
    shown = set()
    for game, wave, line in own_lines(ask(games_to_warm_up_for, since=today), athlete, now):
        if (game.day, game.measure) not in shown:
            shown.add((game.day, game.measure))
            _show(game, wave, line)


def own_lines(
    games: Sequence[KeptGame], athlete: str, now: datetime
) -> list[tuple[Game, WaveLines, Line]]:
    """Return the lines of an athlete in the games that are not over, by their start.

    A game is over once a second one's plan says so, else some hours after its start.

    Parameters
    ----------
    games
        As `db.plans.kept_games.kept_games` gives them.
    athlete
        Code.
    now
        In local wall time.
    """
    mine = [
        (kept.game, wave, line)
        for kept in games
        for wave in wave_lines(kept.game, {})
        for line in wave.lines
        if line.player.plan.athlete == athlete
    ]
    ended = {
        (game.day, game.measure): game.course.earlier_ended_at
        for game, _, _ in mine
        if game.course.second_game
    }
    left = []
    for game, wave, line in mine:
        over = wave.starts_at + STILL_SHOWN
        earlier = ended.get((game.day, game.measure))
        if earlier is not None and not game.course.second_game:
            over = min(over, earlier)
        if now <= over:
            left.append((game, wave, line))
    return sorted(left, key=lambda each: each[1].starts_at)


def games_to_warm_up_for(store: Store, since: datetime) -> list[KeptGame]:
    """Return the games from a moment on, as they may be done now."""
    return may_be_done(store, kept_games(store, since=since))


def _show(game: Game, wave: WaveLines, line: Line) -> None:
    unit, clock = selection.measures_by_code()[game.measure].volume_unit, words.clock
    st.header(f"{dates.day(wave.starts_at, 'full')}, first whistle {clock(wave.starts_at)}")
    general = numbers.number(line.player.general_minutes)
    with st.container(horizontal=True):
        if minutes := prevention_words.minutes(line):
            label = f"Injury prevention, {numbers.number(minutes)} min"
            st.metric(label, clock(line.begins_at))
        st.metric(f"General part, {general} min", clock(line.general_at))
        st.metric(f"From {clock(line.efforts_at)}", numbers.volume(line.volume, unit))
        st.metric("Ready", clock(line.ready_at))
    elements.quiet(prevention_words.sentence(game))
    elements.bullets(
        [
            substitute_words.half_time_line(line, unit),
            substitute_words.bench_words(line, wave, unit),
        ]
    )
    asked = f"day={game.day}&measure={game.measure}"
    with st.container(horizontal=True):
        for label, ending in (("Calendar", "ics"), ("For the phone (HTML)", "html")):
            address = f"/download/my-game.{ending}?{asked}"
            st.link_button(label, address, key=f"own_game_{game.day}_{game.measure}_{ending}")
