"""One athlete's curve with every effort, for the director and coaches."""

from __future__ import annotations

import streamlit as st

from dashboard.athlete import season
from dashboard.athlete.link_form import private_link_form
from dashboard.core import cautions
from dashboard.curve import panel, words
from dashboard.fits.curve_rows import curve_row, curve_rows
from dashboard.fits.lengths import response_history, responses
from dashboard.fits.next_tests import listed_tests
from dashboard.fits.usual_terms import latest_fit
from dashboard.screen import elements, notices, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.status_form import show_status
from dashboard.tests import next_test_words
from db.efforts.rows import sessions
from db.plans.weeks import fit_moments

SHOWN_FITS = 5

person = require("director", "coach")
st.title("Athlete")
names = selection.athlete_labels(active_only=False)
with st.container(horizontal=True):
    athlete = selection.choose_athlete(names)
    measure = selection.choose_measure()
blocked = show_status(person, athlete, names[athlete])

fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    private_link_form(person, athlete, names[athlete])
    st.stop()
notices.newer_data_notice(person, measure, fit)
row = curve_row(ask(responses, measure.code, athlete), athlete)
if row is None:
    st.info(
        f"{names[athlete]} was not part of the latest curves. Update them, or start with"
        f" {cautions.FADE_TEST}."
    )
    private_link_form(person, athlete, names[athlete])
    st.stop()

panel.show_curve(row, measure, fit)
unit, standard = measure.volume_unit, fit.standard_volume
elements.bullets(
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
st.write(cautions.CAUTION)

numbers = ask(fit_moments, measure.code)["fit_id"].tail(SHOWN_FITS).tolist()
history = ask(response_history, measure.code, athlete, tuple(numbers))
if len(history) > 1:
    st.header("How the answer has changed")
    st.write(words.history_sentence(curve_rows(history), unit))

tests = ask(sessions, athlete=athlete, measure=measure.code)
if row["sessions"]:
    st.header("The season")
    season.show_season(measure, row, tests)

st.header("Sessions")
next_test = elements.row_of(ask(listed_tests, measure.code), athlete)
if next_test is not None:
    st.write(next_test_words.next_sentence(next_test, unit))
if tests.empty:
    st.write(f"None of {measure.name.lower()} yet. Start with {cautions.FADE_TEST}.")
else:
    season.show_sessions(tests, measure, f"Sessions of {names[athlete]}")
private_link_form(person, athlete, names[athlete])
