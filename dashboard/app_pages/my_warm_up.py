"""The athlete's own page: their curve, their length, what it means and how sure it is."""

from __future__ import annotations

import streamlit as st

from dashboard import numbers, page_parts, words
from dashboard.access import require, require_athlete
from dashboard.advice_panel import advice_panel
from dashboard.own_game import show_own_games
from dashboard.reads import ask
from dashboard.usual_terms import latest_fit, responses

person = require("athlete")
require_athlete(person, person.athlete)
athlete = person.athlete or ""
st.title("My warm-up")
show_own_games(athlete)
measure = page_parts.choose_measure()
fit = ask(latest_fit, measure.code)
row = page_parts.row_of(ask(responses, measure.code, athlete), athlete) if fit else None
if fit is None and page_parts.follow_fit(measure):
    st.stop()
if fit is None or row is None:
    st.info(
        f"There is no curve of your {measure.name.lower()} yet."
        f" Ask your coach for {words.FADE_TEST}."
    )
    st.stop()

unit, standard = measure.volume_unit, fit.standard_volume
if row["sessions"]:
    st.metric("Your length", numbers.volume(row["advised_volume"], unit))
    st.write(words.own_length_sentence(row, unit))
page_parts.show_curve(row, measure, fit, to_athlete=True)
page_parts.bullets(words.own_sentences(row, standard, unit))
st.write(words.CAUTION)
with st.expander("What to do today: your goal, the cold, the bench"):
    advice_panel(measure, athlete)
st.link_button("Take my curve with me (CSV)", f"/download/my-curve.csv?measure={measure.code}")
