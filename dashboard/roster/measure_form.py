"""A measure's settings: ask for and save them, with the same checks as the command."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import streamlit as st

from dashboard.core import terms
from dashboard.roster.measure_table import DIRECTION
from dashboard.rules.club_limits import HIGHEST_MOST, most_allowed, set_most_allowed
from dashboard.rules.measure_kinds import KINDS, measure_code
from dashboard.rules.worthwhile_source import worthwhile_source
from dashboard.screen import doing, elements
from dashboard.screen.menu import file_of
from dashboard.screen.reads import ask, own_store
from db.errors import BadInput
from db.people.accounts import Person
from db.roster.measures import BETTER, LARGEST_WORTHWHILE_PCT, Measure, list_measures, save_measure

RELIABILITY_PAGE = file_of("reliability")
LARGEST_STANDARD = 500.0


def measure_form(person: Person, measure: Measure) -> None:
    """Ask for all settings of a measure, and save them."""
    most = ask(most_allowed, measure)
    key = f"measure_{measure.code}_{doing.turn()}"
    with st.form(key):
        wanted = ask_measure(measure, key)
        limit = ask_most(measure, most if isfinite(most) else None, key)
        elements.quiet(
            f"The smallest change worth having is {ask(worthwhile_source, measure)}. In files the"
            f" code is {measure.code}; it never changes."
        )
        asked = st.form_submit_button("Save", type="primary")
    st.page_link(
        RELIABILITY_PAGE,
        label="What your own sessions propose as the smallest change worth having",
        query_params={"measure": measure.code},
    )
    if asked:
        doing.do(f"{wanted.name or measure.name} is saved.", lambda: save(person, wanted, limit))


def new_measure_form(person: Person) -> None:
    """Ask for the kind and settings of a new measure, and add it."""
    kind = st.selectbox("What is it?", list(KINDS), key="roster_measure_kind")
    key = f"measure_new_{list(KINDS).index(kind)}_{doing.turn()}"
    with st.form(key):
        wanted = ask_measure(KINDS[kind], key)
        limit = ask_most(wanted, None, key)
        asked = st.form_submit_button("Add the measure", type="primary")
    if asked:
        doing.do(f"{wanted.name} is added.", lambda: add(person, wanted, limit))


def ask_measure(measure: Measure, key: str) -> Measure:
    """Ask for a measure's settings, filled in with the present ones."""
    with st.container(horizontal=True):
        name = st.text_input("Name", measure.name, max_chars=80, key=f"{key}_name")
        unit = st.text_input("Unit of a value", measure.unit, max_chars=20, key=f"{key}_unit")
        better = st.selectbox(
            "Which way is better",
            BETTER,
            BETTER.index(measure.better),
            format_func=DIRECTION.__getitem__,
            key=f"{key}_better",
        )
        volume_unit = st.text_input(
            "What is counted in a warm-up", measure.volume_unit, max_chars=20, key=f"{key}_volume"
        )
    with st.container(horizontal=True):
        standard = st.number_input(
            "Standard: how many the team does today",
            0.0,
            LARGEST_STANDARD,
            measure.standard_volume,
            1.0,
            "%g",
            key=f"{key}_standard",
            placeholder="from routine sessions",
            help=terms.meaning("standard"),
        )
        worthwhile = st.number_input(
            "Smallest change worth having, %",
            0.1,
            LARGEST_WORTHWHILE_PCT,
            measure.worthwhile_pct,
            0.1,
            "%g",
            key=f"{key}_worthwhile",
        )
        lowest, highest = (
            st.number_input(
                f"{label} value that can be true",
                0.0,
                None,
                value,
                1.0,
                "%g",
                key=f"{key}_{label}",
                placeholder="any",
            )
            for label, value in (("Lowest", measure.lowest), ("Highest", measure.highest))
        )
    return replace(
        measure,
        name=name.strip(),
        unit=unit.strip(),
        better=better,
        volume_unit=volume_unit.strip(),
        standard_volume=standard,
        worthwhile_pct=worthwhile,
        lowest=lowest,
        highest=highest,
    )


def ask_most(measure: Measure, most: float | None, key: str) -> float | None:
    """Ask for the most that anybody may be told to do."""
    return st.number_input(
        f"Most {measure.volume_unit} before a start, and in a day",
        1.0,
        HIGHEST_MOST,
        most,
        1.0,
        "%g",
        key=f"{key}_most",
        placeholder="no limit",
        help="Nobody is told to do more maximal efforts than this, and under 18 at most six"
        " tenths of it (usual: common practice).",
    )


def save(person: Person, measure: Measure, most: float | None) -> None:
    """Save a measure, and its limit if that has changed."""
    store = own_store()
    save_measure(store, measure, person.person)
    if most is not None and most != most_allowed(store, measure):
        set_most_allowed(store, measure, most, person.person)


def add(person: Person, measure: Measure, most: float | None) -> Measure:
    """Add a measure under a code made from its name.

    Raises
    ------
    BadInput
        If its name has no letters or digits, or there is a measure with that code already.
    """
    code = measure_code(measure.name)
    if not code:
        raise BadInput("The measure needs a name with letters from a to z or digits.")
    if code in {each.code for each in list_measures(own_store())}:
        raise BadInput(f"There is a measure with the code '{code}' already. Take another name.")
    named = replace(measure, code=code)
    save(person, named, most)
    return named
