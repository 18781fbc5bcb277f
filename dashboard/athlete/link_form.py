"""The private link that opens an athlete's curve: made, listed and revoked."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard.athlete.private_links import LONGEST_DAYS, make_link
from dashboard.core import dates
from dashboard.screen import doing, elements
from dashboard.screen.menu import at
from dashboard.screen.reads import open_links, own_store
from db.people.accounts import Person
from db.people.private_links import revoke_link

USUAL_DAYS = 7
FRESH = "fresh_private_link"


def private_link_form(person: Person, athlete: str, name: str) -> None:
    """Let a coach share an athlete's curve by a link, and revoke the link."""
    with st.expander("Private link for the athlete", key="private_link_box"):
        doing.show_said()
        st.write(
            f"Opens {name}'s curve and length on a phone, without signing in and without anything"
            " else. Whoever has the link sees it, so send it to the athlete only."
        )
        _make(person, athlete)
        _list(person, athlete)


def _make(person: Person, athlete: str) -> None:
    key = f"{athlete}_{doing.turn()}"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        days = st.number_input(
            "Opens for, days", 1, LONGEST_DAYS, USUAL_DAYS, key=f"link_days_{key}"
        )
        pressed = st.button("Make a private link", key=f"link_make_{key}")

    def make() -> None:
        path = make_link(own_store(), athlete, int(days), person.person)
        st.session_state[FRESH] = athlete, elements.host() + at(path)

    if pressed:
        doing.do("The link is made.", make)
    whose, address = st.session_state.pop(FRESH, (None, ""))
    if whose == athlete:
        elements.quiet("Copy it now: it is shown this once, and the store does not know it.")
        st.code(address, language=None, wrap_lines=True)


def _list(person: Person, athlete: str) -> None:
    links = open_links(person, athlete).to_dict("records")
    if not links:
        elements.quiet("No link of this athlete is open.")
    for link in links:
        number = int(link["link_id"])
        with st.container(horizontal=True, vertical_alignment="center"):
            st.write(
                f"Made by {link['person']} on {dates.day(link['made_at'])}, opens until"
                f" {dates.day(link['expires_at'])}"
            )
            if st.button("Revoke", key=f"link_revoke_{number}"):
                doing.do(
                    "The link opens nothing any more.",
                    partial(revoke_link, own_store(), number, person.person),
                )
