"""Where a director says how a measure is done."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from dashboard.screen import elements
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.measures import Measure
from db.roster.protocols import MOST_REST_SECONDS, PARTS, Protocol, protocol_of, save_protocol

LABELS = {
    "effort": "One effort is",
    "arms": "Arms",
    "depth": "Depth",
    "ball": "Ball",
    "beginning": "Start",
    "surface": "Surface",
    "shoes": "Shoes",
}


def show_protocol_setting(person: Person, measures: Mapping[str, Measure]) -> None:
    """Ask how a measure is done; sheets, phones and tests say it in one line."""
    with st.expander("What is done in a test, and the rest between efforts"):
        code = st.selectbox(
            "Measure",
            list(measures),
            format_func=lambda code: measures[code].name,
            key="protocol_measure",
        )
        measure = measures[code]
        now = ask(protocol_of, measure)
        with st.form(f"protocol_{code}", border=False):
            with st.container(horizontal=True):
                said = {
                    part: st.text_input(
                        LABELS[part],
                        getattr(now, part),
                        key=f"protocol_{part}_{code}",
                        max_chars=80,
                        placeholder="not said",
                    )
                    for part in PARTS
                }
                rest = st.number_input(
                    "Rest between two efforts, s",
                    0.0,
                    MOST_REST_SECONDS,
                    now.rest_seconds,
                    5.0,
                    "%g",
                    key=f"protocol_rest_{code}",
                )
            elements.quiet("A part left empty is the usual one of its kind again.")
            if st.form_submit_button("Save how it is done"):
                save_protocol(
                    own_store(), measure, Protocol(rest_seconds=rest, **said), person.person
                )
                st.success(f"Saved for {measure.name.lower()}.")
