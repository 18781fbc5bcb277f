"""The notice on data pages that files wait in the inbox."""

from __future__ import annotations

import streamlit as st

from dashboard.inbox.page_words import waiting_sentence
from dashboard.inbox.watching import running_inbox
from dashboard.screen.menu import Place, file_of
from db.people.accounts import Person

GROUP, OWN = "Data", "inbox"


def show_waiting_files(person: Person, place: Place) -> None:
    """Say above a data page how many files wait for somebody, with a link to the inbox."""
    inbox = running_inbox()
    if place.group != GROUP or place.script == OWN or person.limited or inbox is None:
        return
    if count := len(inbox.waiting):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.info(waiting_sentence(count))
            st.page_link(file_of(OWN), label="Look at the inbox", width="content")
