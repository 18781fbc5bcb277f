"""One athlete: name, position, squads, birthday, and whether they are in the squad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import streamlit as st

from dashboard.roster.athlete_table import labels, positions_of, squads_of
from dashboard.screen import doing, elements
from dashboard.screen.reads import own_store
from db.people.accounts import Person
from db.roster.athlete_changes import Athlete, change_athletes
from db.roster.athletes import EARLIEST_BIRTH


def change_form(person: Person, athletes: Sequence[Athlete]) -> None:
    """Ask for one athlete's details, and save them."""
    by_code, shown = {each.athlete: each for each in athletes}, labels(athletes)
    code = st.selectbox(
        "Athlete", list(by_code), format_func=shown.__getitem__, key="roster_athlete"
    )
    now = by_code[code]
    key = f"roster_change_{code}_{doing.turn()}"
    with st.form(key):
        with st.container(horizontal=True):
            name = st.text_input("Name", now.name, max_chars=100, key=f"{key}_name")
            positions = positions_of(athletes)
            position = st.selectbox(
                "Position",
                positions,
                positions.index(now.position) if now.position else None,
                accept_new_options=True,
                placeholder="None; choose or type",
                key=f"{key}_position",
            )
            born = st.date_input("Born", now.born, EARLIEST_BIRTH, date.today(), key=f"{key}_born")
        squads = st.multiselect(
            "Squads",
            squads_of(athletes),
            list(now.squads),
            accept_new_options=True,
            placeholder="None; choose or type a new one",
            key=f"{key}_squads",
        )
        active = st.toggle("In the squad", now.active, key=f"{key}_active")
        elements.quiet(
            "Whoever leaves keeps all their data, is not planned for and not tested, and can be"
            f" brought back. In files the code is {now.athlete}; it never changes."
        )
        asked = st.form_submit_button("Save", type="primary")
    if asked:
        wanted = replace(
            now, name=name, position=position, born=born, squads=tuple(squads), active=active
        )
        doing.do(
            f"{name.strip() or now.name} is saved.",
            lambda: change_athletes(own_store(), [wanted], person.person),
        )
