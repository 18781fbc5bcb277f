"""Adding athletes by their names: typed, or pasted from anywhere."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from dashboard.core.numbers import counted
from dashboard.roster.athlete_table import squads_of
from dashboard.roster.pasted_names import pasted_names
from dashboard.screen import doing, elements
from dashboard.screen.reads import own_store
from db.people.accounts import Person
from db.roster.athlete_changes import Athlete, add_athletes

HOW = (
    "A name on each line; a position after a tab or a semicolon. Numbers and bullets in front are "
    "left out."
)


def add_form(person: Person, athletes: Sequence[Athlete]) -> None:
    """Ask for names and a squad, and add them."""
    key = f"roster_add_{doing.turn()}"
    with st.form(key):
        text = st.text_area(
            "Names", placeholder="Ana Lopez; wing\nEva Berg; centre", height=200, key=f"{key}_names"
        )
        elements.quiet(HOW)
        squads = st.multiselect(
            "Squad, if you want one",
            squads_of(athletes),
            accept_new_options=True,
            placeholder="None; choose or type a new one",
            key=f"{key}_squads",
        )
        asked = st.form_submit_button("Add them", type="primary")
    if asked:
        new = pasted_names(text, squads)
        doing.do(
            f"{counted(len(new), 'athlete')} added.",
            lambda: add_athletes(own_store(), new, person.person),
        )
    st.page_link(elements.IMPORT_PAGE, label="Or take them from a file")
