"""The athlete's own page: their curve, their length, what it means and how sure it is."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard.athlete import season
from dashboard.athlete.advice_panel import advice_panel
from dashboard.core import cautions, numbers, terms
from dashboard.curve import panel, words
from dashboard.fits.curve_rows import curve_row
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import latest_fit
from dashboard.own import parts
from dashboard.own.coming import coming, coming_sentences
from dashboard.own.facts import own_facts
from dashboard.own.game import show_own_games
from dashboard.rules import status_words
from dashboard.rules.standing import blocked_codes
from dashboard.screen import elements, notices, selection
from dashboard.screen.access import require, require_athlete
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from db.efforts.rows import sessions

person = require("athlete")
require_athlete(person, person.athlete)
athlete = person.athlete or ""
st.title("My warm-up")
blocked = athlete in ask(blocked_codes)
if blocked:
    st.info(status_words.ASK_STAFF)
show_own_games(ask(own_facts, athlete, date.today()), athlete)
measure = selection.choose_measure()
unit = measure.volume_unit
fit = ask(latest_fit, measure.code)
row = curve_row(ask(responses, measure.code, athlete), athlete) if fit else None
if not blocked:
    usual = row["length"] if row and row["sessions"] else None
    for sentence in coming_sentences(
        ask(coming, athlete, date.today()), measure, usual, with_reason=False
    ):
        st.write(sentence)
if fit is None and notices.follow_fit(measure):
    st.stop()
if fit is None or row is None:
    st.info(
        f"There is no curve of your {measure.name.lower()} yet."
        f" Ask your coach for {cautions.FADE_TEST}."
    )
else:
    if row["sessions"] and not blocked:
        st.metric(
            "Your length",
            numbers.volume(row["length"], unit),
            help=terms.meaning("length"),
        )
        st.write(words.own_length_sentence(row, unit))
    panel.show_curve(row, measure, fit, to_athlete=True)
    elements.bullets(words.own_sentences(row, fit.standard_volume, unit))
    st.write(cautions.CAUTION)
    if not blocked:
        with st.expander("What to do today: your goal, the cold, a wait"):
            advice_panel(measure, athlete)

tests = ask(sessions, athlete=athlete, measure=measure.code)
if row is not None and row["sessions"]:
    with st.expander("What has changed, and your season"):
        if not blocked:
            parts.show_change(measure, athlete)
        season.show_season(measure, row, tests)
if not tests.empty:
    with st.expander(f"Your {numbers.counted(len(tests), 'session')}"):
        season.show_sessions(tests, measure, "Your sessions, newest first", season.OWN_COLUMNS)
with st.expander("What the club keeps about you, and who sees it"):
    parts.show_kept(person, athlete)
if row is not None:
    st.link_button(
        "Take my curve with me (CSV)", at(f"/download/my-curve.csv?measure={measure.code}")
    )
