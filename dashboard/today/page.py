"""The coach's page before a game or session: what is advised, what is set, and the sheet."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.usual_terms import latest_fit
from dashboard.game.words import clock
from dashboard.rules import match_days
from dashboard.rules.test_days import athlete_days
from dashboard.screen import doing, notices, selection
from dashboard.screen.access import require
from dashboard.screen.first_steps import show_first_steps
from dashboard.screen.reads import ask
from dashboard.today.after_screen import show_after
from dashboard.today.day_games import choose_game
from dashboard.today.game_form import first_whistles
from dashboard.today.game_removal import show_removal
from dashboard.today.game_screen import show_game
from dashboard.today.goal_form import ask_goal
from dashboard.today.training_screen import show_training
from db.errors import BadInput

person = require("director", "coach")
st.title("Before the session")
doing.show_said()
show_first_steps(person)
with st.container(horizontal=True):
    measure = selection.choose_measure()
    day = st.date_input(
        "Day",
        date.today(),
        key="plan_day",
        format="YYYY-MM-DD",
        bind="query-params",
        persist_state="session",
    )
    day_games = choose_game(measure.code, day)
    kept, which = day_games.own, "second" if day_games.second else "first"
    whistle = st.text_input(
        "First whistle, or several",
        ", ".join(clock(start) for start in kept.game.starts) if kept else "",
        key=f"plan_whistle_{measure.code}_{day}_{which}_{kept.game_id if kept else 0}",
        placeholder="19:30; empty for training",
        persist_state="session",
    )
    occasion = "game" if whistle.strip() else "training"
    goal, work = ask_goal(measure, occasion, kept.game if kept and whistle.strip() else None)
around = match_days.squad_day_words(day, ask(athlete_days), selection.athlete_labels())
if around:
    st.markdown(f"**{around}**", help=match_days.MEANING)
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    st.stop()
try:
    starts = first_whistles(whistle, day)
except BadInput as error:
    st.error(f"{error.title}. {error.message}")
    st.stop()
if starts and not ask(kept_draws, measure.code):
    notices.work_out_again(person, measure, "from which no game can be planned", "plan one")
else:
    notices.newer_data_notice(person, measure, fit)
    if starts:
        show_game(person, measure, starts, goal, work, day_games)
    elif day_games.second:
        st.info("Type the first whistle of the day's second game.")
    else:
        show_training(person, measure, fit, day, goal, work.efforts)
show_removal(person, kept)
show_after(person, measure, day, day_games.second)
