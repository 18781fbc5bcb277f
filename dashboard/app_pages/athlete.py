"""One athlete's curve with every effort, for the director and coaches."""

from __future__ import annotations

import streamlit as st

from dashboard import page_parts, words
from dashboard.access import require
from dashboard.reads import ask
from db.efforts import sessions
from db.results import latest_fit, response_history, responses

SHOWN_FITS = 5

person = require("director", "coach")
st.title("Athlete")
names = page_parts.athlete_labels(active_only=False)
if not names:
    page_parts.no_athletes_yet()
    st.stop()
with st.container(horizontal=True):
    athlete = st.selectbox(
        "Athlete",
        list(names),
        format_func=lambda code: names[code],
        key="athlete",
        bind="query-params",
    )
    measure = page_parts.choose_measure()

fit = ask(latest_fit, measure.code)
if fit is None:
    page_parts.no_curves_yet(person, measure)
    st.stop()
page_parts.newer_data_notice(person, measure, fit)
row = page_parts.row_of(ask(responses, measure.code, athlete), athlete)
if row is None:
    st.info(
        f"{names[athlete]} was not part of the latest curves. Update them, or start with"
        f" {words.FADE_TEST}."
    )
    st.stop()

page_parts.show_curve(row, measure, fit)
unit, standard = measure.volume_unit, fit.standard_volume
page_parts.bullets(
    [
        words.advised_sentence(row, unit),
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
    st.subheader("How the answer has changed")
    st.write(words.history_sentence(list(history.to_dict("records")), unit))

tests = ask(sessions, athlete=athlete, measure=measure.code)
st.subheader("Sessions")
if tests.empty:
    st.write(f"None of {measure.name.lower()} yet. Start with {words.FADE_TEST}.")
else:
    st.dataframe(
        tests[
            [
                "started_at",
                "kind",
                "context",
                "efforts",
                "excluded_efforts",
                "largest_volume",
                "lowest_value",
                "highest_value",
                "note",
            ]
        ],
        hide_index=True,
        placeholder="",
        column_config={
            "started_at": st.column_config.DatetimeColumn("started", format="D MMM YYYY, HH:mm"),
            "excluded_efforts": "not used",
            "largest_volume": f"most {unit} before",
            "lowest_value": f"lowest, {measure.unit}",
            "highest_value": f"highest, {measure.unit}",
        },
        alt=f"Sessions of {names[athlete]}",
    )
