"""An athlete's own next game: when to begin, how much to do, when to be ready."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import streamlit as st

from dashboard.core import dates, numbers
from dashboard.game import prevention_words, words
from dashboard.game.lines import Line, WaveLines, wave_lines
from dashboard.own import words as own_words
from dashboard.own.facts import OwnFacts
from dashboard.own.why import game_why
from dashboard.screen import elements, selection
from dashboard.screen.menu import at
from db.plans.games import Game
from db.plans.kept_games import KeptGame

STILL_SHOWN = timedelta(hours=3)
"""How long after its start a game is still shown, for those who come on late."""


def show_own_games(known: OwnFacts, athlete: str) -> None:
    """Show an athlete's times in every game still to come, if there is one."""
    for kept, wave, line in next_lines(known.games, athlete, datetime.now()):
        _show(kept.game, wave, line)
        for sentence in game_why(
            kept, line, known.curves.get(kept.game.measure), with_reason=False
        ):
            st.write(sentence)


def next_lines(
    games: Sequence[KeptGame], athlete: str, now: datetime
) -> list[tuple[KeptGame, WaveLines, Line]]:
    """Return `own_lines`, but of two games on a day only the next one."""
    found: dict[tuple[date, str], tuple[KeptGame, WaveLines, Line]] = {}
    for kept, wave, line in own_lines(games, athlete, now):
        found.setdefault((kept.game.day, kept.game.measure), (kept, wave, line))
    return list(found.values())


def own_lines(
    games: Sequence[KeptGame], athlete: str, now: datetime
) -> list[tuple[KeptGame, WaveLines, Line]]:
    """Return the lines of an athlete in the games that are not over, sorted by start.

    A game is over some hours after its start, or earlier if the plan of a second game says so.

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
        (kept, wave, line)
        for kept in games
        for wave in wave_lines(kept.game, {})
        for line in wave.lines
        if line.player.plan.athlete == athlete
    ]
    ended = {
        (kept.game.day, kept.game.measure): kept.game.course.earlier_ended_at
        for kept, _, _ in mine
        if kept.game.course.second_game
    }
    left = []
    for kept, wave, line in mine:
        game = kept.game
        over = wave.starts_at + STILL_SHOWN
        earlier = ended.get((game.day, game.measure))
        if earlier is not None and not game.course.second_game:
            over = min(over, earlier)
        if now <= over:
            left.append((kept, wave, line))
    return sorted(left, key=lambda each: each[1].starts_at)


def _show(game: Game, wave: WaveLines, line: Line) -> None:
    unit, clock = selection.measures_by_code()[game.measure].volume_unit, words.clock
    st.header(f"{dates.day(wave.starts_at, 'full')}, {game.start_word} {clock(wave.starts_at)}")
    general = numbers.number(line.player.general_minutes)
    with st.container(horizontal=True):
        if minutes := prevention_words.minutes(line):
            label = f"Injury prevention, {numbers.number(minutes)} min"
            st.metric(label, clock(line.begins_at))
        st.metric(f"General part, {general} min", clock(line.general_at))
        if line.volume:
            st.metric(f"From {clock(line.efforts_at)}", numbers.volume(line.volume, unit))
        st.metric("Ready", clock(line.ready_at))
    elements.bullets(own_words.game_sentences(game, wave, line, unit))
    asked = f"day={game.day}&measure={game.measure}"
    with st.container(horizontal=True):
        for label, ending in (("Calendar", "ics"), ("For the phone (HTML)", "html")):
            address = at(f"/download/my-game.{ending}?{asked}")
            st.link_button(label, address, key=f"own_game_{game.day}_{game.measure}_{ending}")
