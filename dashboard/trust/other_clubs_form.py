"""The form for what other clubs learned: take their file, or go on without it."""

from __future__ import annotations

import streamlit as st

from dashboard.core.numbers import counted
from dashboard.fits.learned_files import (
    LARGEST_BYTES,
    clubs_heard,
    drop_priors,
    keep_priors,
    prior_in,
)
from dashboard.screen import doing, elements
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.measures import Measure

WHAT_FOR = (
    "A small squad can't show by itself how much athletes differ. Other clubs can help: they share"
    " a file without any names ('warmcurve learned pool' makes it). The curves then start from it,"
    " and your own efforts soon count for more."
)


def other_clubs_form(person: Person, measure: Measure) -> None:
    """Say whether fits start from what other clubs learned; take their file, or drop it."""
    clubs = ask(clubs_heard, measure.code)
    name = measure.name.lower()
    told = f"{name} starts from {counted(clubs, 'club')}" if clubs else f"not used for {name}"
    with st.expander(f"Other clubs: {told}"):
        elements.quiet(WHAT_FOR)
        chosen = st.file_uploader(
            "File from other clubs (JSON)",
            max_upload_size=LARGEST_BYTES // 1_000_000,
            key=f"other_clubs_{measure.code}_{doing.turn()}",
        )
        with st.container(horizontal=True):
            if chosen is not None and st.button(
                "Start from it", type="primary", key="other_clubs_take"
            ):
                file, content = chosen.name, chosen.getvalue()
                doing.do(
                    f"The curves of {name} start from what other clubs learned.",
                    lambda: keep_priors(
                        own_store(), prior_in(file, content), [measure], person.person
                    ),
                )
            if clubs and st.button("Go on without other clubs", key="other_clubs_drop"):
                doing.do(
                    f"The curves of {name} are learned from this squad alone.",
                    lambda: drop_priors(own_store(), [measure], person.person),
                )
