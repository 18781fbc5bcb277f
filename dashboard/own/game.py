"""An athlete's own next game: when to begin, how much to do, when to be ready."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import streamlit as st

from dashboard.core import dates, numbers
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.lines import Line, WaveLines, wave_lines
from dashboard.rules.standing import without_blocked
from dashboard.screen import elements, selection
from dashboard.screen.reads import ask
from db.file.store import Store
from db.plans.games import Game
from db.plans.kept_games import KeptGame, kept_games

STILL_SHOWN = timedelta(hours=3)
"""A game is shown until so long after its start, for those who come on late."""


def show_own_games(athlete: str) -> None:
    """Show the line of an athlete in every game that is still to come; nothing without one."""
    today = datetime.combine(date.today(), datetime.min.time())
    for kept in ask(games_to_warm_up_for, since=today):
        for wave in wave_lines(kept.game, {}):
            for line in wave.lines:
                over = wave.starts_at + STILL_SHOWN < datetime.now()
                if line.player.plan.athlete == athlete and not over:
                    _show(kept.game, wave, line)


def games_to_warm_up_for(store: Store, since: datetime) -> list[KeptGame]:
    """Return the games from a moment on, without those who may not warm up."""
    return without_blocked(store, kept_games(store, since=since))


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
