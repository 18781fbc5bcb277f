"""Correct an effort of the athlete on the screen, mark it as spoiled, or take the last one back."""

from __future__ import annotations

import streamlit as st

from dashboard.core.numbers import measured
from dashboard.curve import mistyped
from dashboard.live_test import words
from dashboard.live_test.keys import take_back_button
from dashboard.live_test.memory import before_of, do
from dashboard.live_test.state import LiveTest, Standing, read_value
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.reads import own_store
from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.roster.measures import Measure

CORRECT = "Correct the value"
SPOILED_BECAUSE = ("slipped", "did not go all out", "was measured wrongly", "was disturbed")


def show_changes(live_test_id: int, here: Standing, now: LiveTest) -> None:
    """Offer the changes that need care, away from the keys that are pressed fast."""
    if not here.made:
        return
    name, measure = here.test["name"], now.measure
    with st.expander(f"Correct an effort of {name}, mark it as spoiled, or take the last one back"):
        _show_correction(live_test_id, here, measure)
        last = here.efforts.iloc[-1]
        offered = now.entry is not None and now.entry.effort_id == last["effort_id"]
        if not offered:
            take_back_button(
                live_test_id, here, int(last["effort_id"]), float(last["value"]), measure
            )


def _show_correction(live_test_id: int, here: Standing, measure: Measure) -> None:
    session = here.session_id
    rows = {int(row["effort_id"]): row for row in here.efforts.to_dict("records")}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        effort_id = st.selectbox(
            "Effort",
            list(reversed(rows)),
            format_func=lambda one: (
                f"{rows[one]['effort']}: {measured(rows[one]['value'], measure.unit)}"
            ),
            key=f"which_{session}",
        )
        st.text_input(
            f"Right value, {words.placeholder(here.method) or measure.unit}",
            key=f"right_{session}",
        )
        st.selectbox(
            "Reason",
            SPOILED_BECAUSE,
            index=None,
            accept_new_options=True,
            placeholder="choose, or type your own",
            key=f"reason_{session}",
        )
    elements.quiet(f"{words.SPOILED} {words.NEVER_MADE}")
    spoiled = isinstance(rows[effort_id]["excluded"], str)
    other = ("use", "Use it again") if spoiled else ("spoil", "Mark as spoiled")
    with st.container(horizontal=True):
        for act, label in (("correct", CORRECT), other):
            st.button(
                label,
                key=f"{act}_{session}",
                on_click=_change,
                args=[live_test_id, here, measure, act],
            )


def _change(live_test_id: int, here: Standing, measure: Measure, what: str) -> None:
    person = require("director", "coach").person
    effort_id, text, reason = (
        st.session_state[f"{field}_{here.session_id}"] for field in ("which", "right", "reason")
    )

    def change() -> str:
        store = own_store()
        if what == "correct":
            value = read_value(text, here.method, measure)
            known = before_of(here, measure)
            doubts = mistyped.correction_doubts(known, measure, here.efforts, effort_id, value)
            mistyped.be_sure(f"sure_{here.session_id}", (effort_id, value), doubts, CORRECT)
            correct_effort(store, effort_id, value, reason or "typed wrongly", person)
        elif what == "spoil":
            exclude_effort(store, effort_id, reason or "", person)
        else:
            include_effort(store, effort_id, reason or "marked by mistake", person)
        return f"An effort of {here.test['name']} is changed. The old value stays on record."

    if do(live_test_id, change):
        st.session_state[f"right_{here.session_id}"] = ""
