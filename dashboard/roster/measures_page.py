"""The measures, for the director: every setting of a measure, and the settings of the club."""

from __future__ import annotations

import streamlit as st

from dashboard.core import terms
from dashboard.roster.measure_form import measure_form, new_measure_form
from dashboard.roster.measure_table import measure_table
from dashboard.screen import doing, selection, units
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from db.file.settings import get_setting
from db.people.first_run import CLUB, LONGEST_CLUB, name_club
from db.plans.start_words import START_WORDS, keep_start_word, start_word

NEW = "A new one"

person = require("director")
st.title("Measures")
doing.show_said()
known = selection.measures_by_code()
st.dataframe(ask(measure_table), hide_index=True, alt="Every measure with what is set of it")
st.header("Change or add a measure")
chosen = st.selectbox(
    "Measure",
    [*known, NEW],
    format_func=lambda code: known[code].name if code in known else code,
    key="roster_measure",
    help=terms.meaning("measure"),
)
if chosen in known:
    measure_form(person, known[chosen])
else:
    new_measure_form(person)
st.header("The club: its name, its words and units")
with st.form(f"roster_club_{doing.turn()}"):
    club = st.text_input(
        "Name, on sheets and the sign-in page",
        ask(get_setting, CLUB) or "",
        max_chars=LONGEST_CLUB,
        key=f"roster_club_name_{doing.turn()}",
    )
    if st.form_submit_button("Save the name"):
        doing.do("The name is saved.", lambda: name_club(running_store(), club, person.person))
said = ask(start_word)
word = st.selectbox(
    "What the start of a game is called",
    START_WORDS,
    START_WORDS.index(said),
    key=f"{said}_roster_start_word",
)
if word != said:
    doing.do("The word is saved.", lambda: keep_start_word(running_store(), word, person.person))
system = st.segmented_control(
    "Units on screens, for everybody",
    units.SYSTEMS,
    default=units.system(),
    required=True,
    key="roster_units",
    help="Imperial: inches, feet, pounds, degrees Fahrenheit. Files and whatever is typed stay in"
    " the measure's own unit.",
)
if system != units.system():
    doing.do(
        "The units are saved.", lambda: units.keep_system(running_store(), system, person.person)
    )
