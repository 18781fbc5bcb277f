"""What other clubs learned of their squads: taken from their file, or forgotten."""

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
    "A small squad cannot show how far athletes differ. Clubs can tell each other, without a"
    " name in it: their file is made by 'warmcurve learned pool'. The next curves begin with it,"
    " and are worked out again. It is believed until the squad's own efforts say otherwise."
)


def other_clubs_form(person: Person, measure: Measure) -> None:
    """Say whether fits begin with what other clubs learned; take their file, or forget it."""
    clubs = ask(clubs_heard, measure.code)
    told = f"begins with {counted(clubs, 'other club')}" if clubs else "begins with nothing of them"
    with st.expander(f"What other clubs learned: {measure.name.lower()} {told}"):
        elements.quiet(WHAT_FOR)
        chosen = st.file_uploader(
            "The file that clubs made together (JSON)",
            max_upload_size=LARGEST_BYTES // 1_000_000,
            key=f"other_clubs_{measure.code}_{doing.turn()}",
        )
        with st.container(horizontal=True):
            if chosen is not None and st.button(
                "Begin with it", type="primary", key="other_clubs_take"
            ):
                name, content = chosen.name, chosen.getvalue()
                doing.do(
                    f"Curves of {measure.name.lower()} begin with what other clubs learned.",
                    lambda: keep_priors(
                        own_store(), prior_in(name, content), [measure], person.person
                    ),
                )
            if clubs and st.button("Go on without other clubs", key="other_clubs_drop"):
                doing.do(
                    f"Curves of {measure.name.lower()} are learned from this squad alone.",
                    lambda: drop_priors(own_store(), [measure], person.person),
                )
