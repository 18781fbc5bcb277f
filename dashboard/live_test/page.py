"""The page of a test: begin it, pick it up again on any device, and see what it showed."""

from __future__ import annotations

import streamlit as st

from dashboard.core import numbers
from dashboard.live_test import words
from dashboard.live_test.cautions import show_week_setting
from dashboard.live_test.form import show_begin, show_stop_setting
from dashboard.live_test.protocol_form import show_protocol_setting
from dashboard.live_test.screen import show_live_test
from dashboard.screen import selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.status_form import able_labels, show_left_out
from db.efforts.live_tests import open_tests

person = require("director", "coach")
st.title("Run a test")
asked_for = numbers.whole_number(st.query_params.get("test", ""))
if asked_for is not None:
    show_live_test(asked_for)
    st.stop()

names = selection.athlete_labels()
if not names:
    selection.no_athletes_yet()
    st.stop()
measures = selection.measures_by_code()
waiting = ask(open_tests)
if not waiting.empty:
    st.header("Open tests")
    for live_test_id, tests in waiting.groupby("round_id", sort=False):
        measure = measures[tests["measure"].iloc[0]]
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            st.write(f"**{measure.name}.** {words.begun(tests.to_dict('records'))}")
            if st.button("Go on with this test", key=f"go_on_{live_test_id}", type="primary"):
                st.query_params["test"] = str(live_test_id)
                st.rerun()
    st.header("Begin another")
show_left_out()
show_begin(person, able_labels(), measures)
if person.role == "director":
    show_stop_setting(person, measures)
    show_week_setting(person, measures)
    show_protocol_setting(person, measures)
