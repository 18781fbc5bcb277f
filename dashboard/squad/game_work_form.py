"""The form for the opening work of a game, which a director sets."""

from __future__ import annotations

import streamlit as st

from dashboard.rules.game_work import WORK_OF, GameWork, game_work, set_game_work, work_words
from dashboard.rules.work_limits import LONGEST_RECOVERY_SECONDS, MOST_EFFORTS
from dashboard.screen import doing
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.measures import Measure, kind_of_effort


def game_work_form(person: Person, measure: Measure) -> None:
    """Say what the opening work of a game is, and let a director change it."""
    work = ask(game_work, measure)
    with (
        st.expander(f"Opening work of a game: {work_words(work)}"),
        st.form(f"game_work_{measure.code}", border=False),
    ):
        with st.container(horizontal=True):
            efforts = st.number_input(
                "Efforts of the first ten minutes",
                1,
                MOST_EFFORTS,
                work.efforts,
                key=f"work_efforts_{measure.code}_{doing.turn()}",
                help=f"Usual: {work_words(WORK_OF[kind_of_effort(measure)])} (common practice, no"
                " source).",
            )
            seconds = st.number_input(
                "Recovery between two, s",
                0.0,
                LONGEST_RECOVERY_SECONDS,
                work.recovery_seconds,
                10.0,
                "%g",
                key=f"work_recovery_{measure.code}_{doing.turn()}",
            )
        if st.form_submit_button("Save the opening work"):
            doing.do(
                "Saved; games that are planned from now on begin with it.",
                lambda: set_game_work(
                    own_store(), measure, GameWork(int(efforts), float(seconds)), person.person
                ),
            )
