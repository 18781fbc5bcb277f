"""The form of each of the first steps."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import streamlit as st

from dashboard.core import terms
from dashboard.core.numbers import counted
from dashboard.roster.add_form import HOW
from dashboard.roster.measure_form import add, ask_most
from dashboard.roster.measure_table import DIRECTION
from dashboard.roster.pasted_names import pasted_names
from dashboard.rules.club_limits import most_allowed, set_most_allowed
from dashboard.rules.measure_kinds import KINDS
from dashboard.screen import doing, elements, selection, units
from dashboard.screen.menu import at
from dashboard.screen.reads import ask, own_store
from db.errors import BadInput
from db.people.accounts import Person
from db.people.first_run import LONGEST_CLUB, FirstRun, begin_with, name_club
from db.roster.athlete_changes import add_athletes
from db.roster.measures import Measure, save_measure


def ask_club(person: Person, _run: FirstRun) -> None:
    """Ask for the club's name, and for the units to show on screens."""
    with st.form("first_club_form"):
        name = st.text_input(
            "Your club or team",
            max_chars=LONGEST_CLUB,
            key="first_club",
            placeholder="as sheets and the sign-in page show it",
        )
        system = st.segmented_control(
            "Units on screens",
            units.SYSTEMS,
            default=units.system(),
            required=True,
            key="first_units",
        )
        asked = st.form_submit_button("Save it", type="primary")
    if asked:

        def save() -> None:
            name_club(own_store(), name, person.person)
            if system != units.system():
                units.keep_system(own_store(), system, person.person)

        doing.do(f"Welcome, {name.strip()}.", save)


def ask_measure(person: Person, _run: FirstRun) -> None:
    """Ask what is measured: one of the measures there are, or another of a common kind."""
    known = selection.measures_by_code()
    offered = {code: measure_words(measure) for code, measure in known.items()}
    offered |= {kind: f"Another: {kind[:1].lower()}{kind[1:]}" for kind in KINDS}
    chosen = st.radio(
        "What do you measure?",
        list(offered),
        format_func=offered.__getitem__,
        key="first_measure",
        help=terms.meaning("measure"),
    )
    measure = known[chosen] if chosen in known else _ask_kind(KINDS[chosen])
    if st.button("Begin with this", type="primary", key="first_measure_save"):

        def save() -> None:
            code = measure.code or add(person, measure, None).code
            begin_with(own_store(), code, person.person)

        doing.do(f"You begin with {measure.name.lower()}. More can be added later.", save)


def measure_words(measure: Measure) -> str:
    """Return what a measure is: its name, its unit and which way is better."""
    return f"{measure.name}: {measure.unit}, {DIRECTION[measure.better]}"


def _ask_kind(kind: Measure) -> Measure:
    with st.container(horizontal=True):
        name = st.text_input("Name", kind.name, max_chars=80, key=f"first_name_{kind.name}")
        if kind.unit:
            return replace(kind, name=name.strip())
        unit = st.text_input("Unit of a value", "", max_chars=20, key="first_unit")
        better = st.selectbox(
            "Which way is better",
            list(DIRECTION),
            format_func=DIRECTION.__getitem__,
            key="first_better",
        )
    return replace(kind, name=name.strip(), unit=unit.strip(), better=better)


def ask_standard(person: Person, run: FirstRun) -> None:
    """Ask for the length of today's standard warm-up, and for the most that anybody does."""
    known = selection.measures_by_code()
    measure = known.get(run.measure) or next(iter(known.values()))
    with st.form("first_standard_form"):
        standard = st.number_input(
            f"{measure.name}: how many {measure.volume_unit} does the team do before it starts?",
            0.0,
            500.0,
            None,
            1.0,
            format="%g",
            key="first_standard",
            placeholder="roughly; it can be changed",
            help=terms.meaning("standard"),
        )
        usual = ask(most_allowed, measure)
        most = ask_most(measure, usual if isfinite(usual) else None, "first")
        asked = st.form_submit_button("Save it", type="primary")
    if asked:

        def save() -> None:
            if standard is None:
                raise BadInput("Say roughly how much the team does today, or skip this.")
            save_measure(own_store(), replace(measure, standard_volume=standard), person.person)
            if most is not None and most != usual:
                set_most_allowed(own_store(), measure, most, person.person)

        doing.do(f"The standard of {measure.name.lower()} is set.", save)


def ask_squad(person: Person, _run: FirstRun) -> None:
    """Ask for names, or link to importing a file that has them."""
    key = f"first_squad_{doing.turn()}"
    with st.form(key):
        text = st.text_area(
            "Names", placeholder="Ana Lopez; wing\nEva Berg; centre", key=f"{key}_names"
        )
        elements.quiet(HOW)
        asked = st.form_submit_button("Add them", type="primary")
    if asked:
        new = pasted_names(text)
        doing.do(
            f"{counted(len(new), 'athlete')} added.",
            lambda: add_athletes(own_store(), new, person.person),
        )
    st.page_link(elements.IMPORT_PAGE, label="They are in my file: import it")


def ask_data(person: Person, _run: FirstRun) -> None:
    """Link to the ways to add efforts."""
    st.write(
        "Three athletes with a fade test each are a good start. Any table of yours will do; the"
        " sample holds an invented squad's, to look at or to try."
    )
    with st.container(horizontal=True):
        st.page_link(elements.IMPORT_PAGE, label="Import a file of efforts")
        st.page_link(elements.ENTER_PAGE, label="Type a session")
        st.page_link(elements.RUN_PAGE, label="Run a test now")
        if not person.limited:
            st.page_link(elements.IMPORT_PAGE, label="More athletes, from a file")
        st.link_button(
            "Sample file of efforts (CSV)",
            at("/download/sample-efforts.csv"),
            key="sample_efforts",
        )
