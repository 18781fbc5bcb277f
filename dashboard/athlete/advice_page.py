"""What one athlete should do today, for the goal and the circumstances of the day."""

from __future__ import annotations

import streamlit as st

from dashboard.athlete.advice_panel import advice_panel
from dashboard.core import cautions
from dashboard.fits.curve_rows import curve_row
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import latest_fit
from dashboard.screen import notices, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.status_form import show_status

person = require("director", "coach")
st.title("Advice for today")
names = selection.athlete_labels()
with st.container(horizontal=True):
    athlete = selection.choose_athlete(names)
    measure = selection.choose_measure()
if show_status(person, athlete, names[athlete]):
    st.stop()
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    st.stop()
notices.newer_data_notice(person, measure, fit)
if curve_row(ask(responses, measure.code, athlete), athlete) is None:
    st.info(
        f"{names[athlete]} was not part of the latest curves. Update them, or start with"
        f" {cautions.FADE_TEST}."
    )
    st.stop()
advice_panel(measure, athlete)
