"""One athlete's curve with every effort, for the director and coaches."""

from __future__ import annotations

import streamlit as st

from dashboard import next_test_words, page_parts, season_parts, words
from dashboard.access import require
from dashboard.lengths import response_history, responses
from dashboard.link_form import private_link_form
from dashboard.next_tests import listed_tests
from dashboard.reads import ask
from dashboard.status_form import show_status
from dashboard.usual_terms import latest_fit
from db.efforts.rows import sessions

SHOWN_FITS = 5

person = require("director", "coach")
st.title("Athlete")
names = page_parts.athlete_labels(active_only=False)
with st.container(horizontal=True):
    athlete = page_parts.choose_athlete(names)
    measure = page_parts.choose_measure()
blocked = show_status(person, athlete, names[athlete])

fit = ask(latest_fit, measure.code)
if fit is None:
    page_parts.no_curves_yet(person, measure)
    private_link_form(person, athlete, names[athlete])
    st.stop()
page_parts.newer_data_notice(person, measure, fit)
row = page_parts.row_of(ask(responses, measure.code, athlete), athlete)
if row is None:
    st.info(
        f"{names[athlete]} was not part of the latest curves. Update them, or start with"
        f" {words.FADE_TEST}."
    )
    private_link_form(person, athlete, names[athlete])
    st.stop()

page_parts.show_curve(row, measure, fit)
unit, standard = measure.volume_unit, fit.standard_volume
page_parts.bullets(
    [
        "" if blocked else words.length_sentence(row, standard, unit),
        words.good_range_sentence(row, unit),
        words.best_sentence(row, unit),
        words.loss_sentence(row, standard),
        words.gain_sentence(row),
        words.hold_sentence(row, unit),
        words.chances_sentence(row, standard),
        words.reach_sentence(row, unit),
    ]
)
st.write(words.CAUTION)

history = ask(response_history, measure.code, athlete).tail(SHOWN_FITS)
if len(history) > 1:
    st.header("How the answer has changed")
    st.write(words.history_sentence(list(history.to_dict("records")), unit))

tests = ask(sessions, athlete=athlete, measure=measure.code)
if row["sessions"]:
    st.header("The season")
    season_parts.show_season(measure, row, tests)

st.header("Sessions")
next_test = page_parts.row_of(ask(listed_tests, measure.code), athlete)
if next_test is not None:
    st.write(next_test_words.next_sentence(next_test, unit))
if tests.empty:
    st.write(f"None of {measure.name.lower()} yet. Start with {words.FADE_TEST}.")
else:
    season_parts.show_sessions(tests, measure, f"Sessions of {names[athlete]}")
private_link_form(person, athlete, names[athlete])
