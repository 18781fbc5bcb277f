"""One athlete's sessions and every change to them, with forms to correct, exclude or take back."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from dashboard.athlete import history_tables
from dashboard.core import columns, dates
from dashboard.core.numbers import counted, measured
from dashboard.curve.mistyped import be_sure, before_session, correction_doubts
from dashboard.rules import match_days
from dashboard.rules.test_days import athlete_days
from dashboard.screen import doing, elements, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.efforts.rows import efforts, sessions
from db.efforts.trail import effort_trail, imports_of, take_back_change
from db.imports.past_imports import import_batches
from db.plans.lengths import choices, take_back_choice
from db.plans.outcomes import outcome_changes

CORRECT = "Correct the value"
MOMENT = columns.moments()
UTC = columns.moments(timezone="UTC")
DAY = columns.days()

person = require("director", "coach")
st.title("History")
names = selection.athlete_labels(active_only=False)
store = own_store()
measures = selection.measures_by_code()
doing.show_said()
athlete = selection.choose_athlete(names)


def show(rows: pd.DataFrame, alt: str) -> None:
    """Show a table of the trail."""
    columns: dict[str, Any] = {"when": UTC, "session": MOMENT, "for the day": DAY}
    columns["game day"] = st.column_config.TextColumn(help=match_days.MEANING)
    columns |= {"first session": MOMENT, "last session": MOMENT}
    st.dataframe(rows, hide_index=True, placeholder="", column_config=columns, alt=alt)


turn, days = doing.turn(), ask(athlete_days)[athlete]
stored = ask(sessions, athlete=athlete)
st.header("Sessions")
if stored.empty:
    st.info(f"Nothing of {names[athlete]} is saved yet. Enter a session or import a file.")
    with st.container(horizontal=True):
        st.page_link(elements.ENTER_PAGE, label="Enter a session")
        st.page_link(elements.IMPORT_PAGE, label="Import a file")
else:
    by_number = {int(row["session_id"]): row for row in stored.to_dict("records")}
    session = st.selectbox(
        f"{counted(len(by_number), 'session')}, newest first",
        list(by_number),
        format_func=lambda number: history_tables.session_label(by_number[number], measures, days),
        key=f"history_session_{athlete}",
    )
    measure = measures[by_number[session]["measure"]]
    rows = ask(efforts, measure.code, athlete)
    rows = rows[rows["session_id"] == session]
    st.dataframe(
        history_tables.session_efforts(rows, measure),
        hide_index=True,
        placeholder="",
        alt=f"Efforts of this session in {measure.unit}",
    )
    by_effort = {int(row["effort"]): row for row in rows.to_dict("records")}
    number = st.selectbox("Effort to change", list(by_effort), key=f"history_effort_{session}")
    chosen = by_effort[number]
    effort_id, used = int(chosen["effort_id"]), pd.isna(chosen["excluded"])
    with st.form(f"change_{effort_id}_{turn}"):
        with st.container(horizontal=True, vertical_alignment="bottom"):
            value = st.number_input(
                f"Value in {measure.unit}",
                value=float(chosen["value"]),
                format="%g",
                key=f"history_value_{effort_id}_{turn}",
            )
            reason = st.text_input(
                "Reason (needed)", max_chars=160, key=f"history_reason_{effort_id}_{turn}"
            )
        with st.container(horizontal=True):
            correct = st.form_submit_button(CORRECT, type="primary")
            switch = st.form_submit_button("Exclude" if used else "Include again")
    change = (effort_id, reason, person.person)
    if correct:

        def _correct() -> None:
            known = ask(before_session, measure, athlete, session)
            doubts = correction_doubts(known, measure, rows, effort_id, value)
            be_sure(f"history_sure_{effort_id}", value, doubts, CORRECT)
            correct_effort(store, effort_id, value, reason, person.person)

        doing.do(
            f"Effort {number} is now {measured(value, measure.unit, 6)}. The old value is listed"
            " below.",
            _correct,
        )
    if switch and used:
        doing.do(f"Effort {number} is no longer used.", lambda: exclude_effort(store, *change))
    if switch and not used:
        doing.do(f"Effort {number} is used again.", lambda: include_effort(store, *change))

st.header("What was changed")
trail = ask(effort_trail, athlete)
if trail.empty:
    st.write("No effort was corrected or excluded.")
else:
    show(history_tables.changes(trail, measures), "Corrections and exclusions, newest first")

st.header("Lengths set")
plans = ask(choices, athlete)
if plans.empty:
    st.write("No length has been set.")
else:
    show(history_tables.lengths(plans, measures, days), "Lengths set, newest first")
    outcomes = ask(outcome_changes, athlete)
    if not outcomes.empty:
        show(history_tables.outcomes(outcomes, measures), "What was done and what came of it")

last_changes = trail[trail["last"]].to_dict("records")
last_plans = plans[plans["in_force"]].to_dict("records")
decisions = {
    f"{dates.moment(row['changed_at'])}, effort {row['effort']} of"
    f" {measures[row['measure']].name.lower()}: {history_tables.change_in_words(row)}": (
        take_back_change,
        int(row["change_id"]),
    )
    for row in last_changes
} | {
    history_tables.length_label(row, measures): (take_back_choice, int(row["plan_id"]))
    for row in last_plans
}
if decisions:
    st.header("Take a decision back")
    elements.quiet(
        "This saves a new decision, and the old one stays in the list. An effort gets the value it"
        " had before. A length goes back to what was set before, or to what was advised."
    )
    with st.form(f"take_back_{athlete}_{turn}"):
        decision = st.selectbox("Decision", list(decisions), key=f"back_{athlete}_{turn}")
        why = st.text_input("Reason", max_chars=160, key=f"back_reason_{athlete}_{turn}")
        if st.form_submit_button("Take it back"):
            take_back, taken = decisions[decision]
            doing.do("Taken back.", lambda: take_back(store, taken, why, person.person))

st.header("Imports")
brought = ask(imports_of, athlete)
if brought.empty:
    st.write("No efforts of this athlete came from a file.")
else:
    show(
        history_tables.imports(brought, ask(import_batches), measures),
        "Files with efforts of this athlete, newest first",
    )
