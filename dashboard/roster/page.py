"""Athletes and squads, for the director: add, rename, move, retire, bring back, merge."""

from __future__ import annotations

import streamlit as st

from dashboard.roster.add_form import add_form
from dashboard.roster.athlete_table import athlete_table, counts_sentence
from dashboard.roster.change_form import change_form
from dashboard.roster.merge_form import merge_form
from dashboard.roster.several_form import several_form
from dashboard.roster.squads_form import squads_form
from dashboard.screen import doing
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from db.roster.athlete_changes import athletes_in_full

TASKS = {
    "Add athletes": add_form,
    "Change an athlete": change_form,
    "Move or retire several": several_form,
    "Squads and coaches": squads_form,
    "One athlete, two entries": merge_form,
}
ADD = next(iter(TASKS))

person = require("director")
st.title("People and squads")
doing.show_said()
athletes = ask(athletes_in_full)
if athletes:
    st.write(counts_sentence(athletes))
task = ADD
if athletes:
    task = st.segmented_control(
        "What do you want to do?", list(TASKS), default=ADD, required=True, key="roster_task"
    )
TASKS[task](person, athletes)
if athletes:
    st.header("Everybody")
    st.dataframe(athlete_table(athletes), hide_index=True, alt="Everybody, with squads")
