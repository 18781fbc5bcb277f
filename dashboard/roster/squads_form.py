"""Squads: their names, how many athletes each has, and which coaches see it."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from dashboard.screen import doing, elements
from dashboard.screen.menu import file_of
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person, list_people
from db.people.squad_changes import Squad, rename_squad, set_squad_coaches, squads
from db.roster.athlete_changes import Athlete

NONE_YET = (
    "There are no squads yet. Put athletes into one with 'Move or retire several', or choose one "
    "when you add them."
)
ACCOUNTS_PAGE = file_of("accounts")


def squads_form(person: Person, _athletes: Sequence[Athlete]) -> None:
    """Show the squads, and let the director rename one and choose its coaches."""
    there = ask(squads)
    if not there:
        st.info(NONE_YET)
        return
    st.dataframe(squad_table(there), hide_index=True, alt="The squads, with their coaches")
    by_name = {each.name: each for each in there}
    name = st.selectbox("Squad", list(by_name), key="roster_squad")
    squad, key = by_name[name], f"roster_squad_{doing.turn()}_{name}"
    with st.form(f"{key}_rename"):
        new_name = st.text_input("Name", name, max_chars=100, key=f"{key}_name")
        if st.form_submit_button("Rename"):
            doing.do(
                f"The squad is called {new_name.strip()}.",
                lambda: rename_squad(own_store(), name, new_name, person.person),
            )
    _coaches_form(person, squad, key)


def _coaches_form(person: Person, squad: Squad, key: str) -> None:
    coaches = {
        each.person: each.display_name
        for each in ask(list_people)
        if each.limited and (each.active or squad.name in each.squads)
    }
    if not coaches:
        elements.quiet("No coach has an account that sees squads.")
        st.page_link(ACCOUNTS_PAGE, label="Add an account")
        return
    with st.form(f"{key}_sight"):
        chosen = st.multiselect(
            "Coaches who see it",
            list(coaches),
            [each.person for each in squad.coaches],
            format_func=coaches.__getitem__,
            placeholder="None; directors and coaches of all athletes see it anyway",
            key=f"{key}_coaches",
        )
        elements.quiet("Whoever's sight changes is signed out everywhere.")
        if st.form_submit_button("Save the coaches"):
            doing.do(
                f"The coaches of {squad.name} are saved.",
                lambda: set_squad_coaches(own_store(), squad.name, chosen, person.person),
            )


def squad_table(there: Sequence[Squad]) -> pd.DataFrame:
    """Return a row per squad."""
    return pd.DataFrame(
        [
            {
                "squad": each.name,
                "athletes": each.athletes,
                "have left": each.left,
                "coaches": ", ".join(coach.display_name for coach in each.coaches),
            }
            for each in there
        ]
    )
