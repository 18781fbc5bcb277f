"""Today: who warms up when and how much, before the session; what was done, after it."""

from __future__ import annotations

from datetime import date, datetime

import streamlit as st

from dashboard.core import cautions, dates
from dashboard.core.numbers import capital, counted
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.usual_terms import latest_fit
from dashboard.game import words
from dashboard.rules import match_days
from dashboard.rules.test_days import (
    athlete_days,
    minor_sentence,
    minors_among,
    resting_sentence,
)
from dashboard.screen import doing, elements, notices, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.status_form import able_labels, show_left_out
from dashboard.start.first_steps import show_first_steps
from dashboard.today.after_screen import AFTER, choose_side, show_after
from dashboard.today.day_games import choose_game
from dashboard.today.game_form import start_times
from dashboard.today.game_removal import show_removal
from dashboard.today.game_screen import Shown, show_game
from dashboard.today.goal_form import ask_goal
from dashboard.today.training_screen import Training, show_training
from db.errors import BadInput
from db.people.first_run import first_run
from db.plans.lengths import next_day, plans
from db.plans.start_words import start_word

person = require("director", "coach")


def show_before() -> str:
    """Show the rows before a game or session; return its part of the headline."""
    show_left_out()
    names = able_labels()
    if resting := resting_sentence(known, names, day):
        st.warning(resting)
    if minors := minor_sentence(minors_among(known, names, day)):
        elements.quiet(minors)
    curves = ask(kept_draws, measure.code)
    if fit is None:
        notices.no_curves_yet(person, measure)
    elif starts and not curves:
        notices.work_out_again(person, measure, "from which no game can be planned", "plan one")
    else:
        notices.newer_data_notice(person, measure, fit)
    if fit is not None and starts and curves:
        shown = Shown(person, measure, fit, day_games, key)
        try:
            return show_game(shown, starts, goal, work, change)
        except BadInput as error:
            st.info(error.message)
            return ""
    if day_games.second:
        st.info("Type when the day's second game starts under 'Change'.")
        return ""
    return show_training(person, Training(measure, fit, day, goal, work.efforts))


with st.container(horizontal=True, vertical_alignment="center", key="today_top"):
    st.title("Today", width="content")
    headline = st.empty()
    beside = st.container(width="content")
    change = st.popover("Change")
doing.show_said()
# Once there are curves, the rows come first and the remaining first steps go below them.
run = ask(first_run)
at_work = bool(run.fits and run.athletes)
if not at_work:
    show_first_steps(person)
with change:
    with st.container(horizontal=True):
        measure = selection.choose_measure()
        opening = ask(next_day, measure.code, date.today()) or date.today()
        day = st.date_input(
            "Day",
            opening,
            key="plan_day",
            format="YYYY-MM-DD",
            bind="query-params",
            persist_state="session",
        )
    day_games = choose_game(measure.code, day)
    kept, which = day_games.own, "second" if day_games.second else "first"
    key = f"{measure.code}_{day}_{which}_{kept.game_id if kept else 0}"
    begins_with = ask(start_word)
    typed = st.text_input(
        f"{capital(begins_with)}, or several",
        ", ".join(words.clock(start) for start in kept.game.starts) if kept else "",
        key=f"plan_start_{key}",
        placeholder="19:30; empty for training",
        persist_state="session",
    )
    occasion = "game" if typed.strip() else "training"
    goal, work = ask_goal(measure, occasion, kept.game if kept and typed.strip() else None)
known = ask(athlete_days, measure)
around = match_days.squad_day_words(day, known, selection.athlete_labels())
set_for = ask(plans, day, measure.code, day_games.second)
with beside:
    side = choose_side(day, kept, not set_for.empty, f"{measure.code}_{day}_{which}")
fit = ask(latest_fit, measure.code)
told = ""
starts: tuple[datetime, ...] = ()
try:
    starts = start_times(typed, day)
except BadInput as error:
    st.error(f"{error.title}. {error.message}")
if side == AFTER:
    begun = f"{begins_with} **{words.start_times(starts)}** · " if starts else ""
    told = begun + show_after(person, measure, day, day_games.second)
else:
    told = show_before()
parts = [f"**{dates.weekday(day)}**", f"**{around}**" if around else "", told]
headline.markdown(" · ".join(part for part in parts if part), help=match_days.MEANING)
st.write(cautions.CAUTION)
if fit is not None:
    evidence = f"{counted(fit.sessions, 'session')} and {counted(fit.efforts, 'effort')}"
    elements.quiet(f"Curves from {evidence}.")
if at_work:
    show_first_steps(person)
show_removal(person, kept)
