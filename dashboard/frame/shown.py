"""The frame around every page, and the open page in it."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard.club.sight_words import NOBODY_YET
from dashboard.frame.broken_pages import show_broken_click
from dashboard.inbox.notice import show_waiting_files
from dashboard.screen.access import sign_out_form, signed_in
from dashboard.screen.elements import quiet
from dashboard.screen.fit_line import show_fit_line
from dashboard.screen.navigation import open_page, show_siblings
from dashboard.screen.own_scripts import own_script
from dashboard.screen.reads import ask
from dashboard.screen.selection import came_to
from dashboard.screen.web_sessions import running_store
from dashboard.serving.waiting_notice import show_waits
from db.roster.athletes import list_athletes

ASSETS = Path(__file__).parents[1] / "assets"


def show_page() -> None:
    """Show the open page to the person signed in, with a sign-out button under it."""
    st.set_page_config(page_title="warmcurve", page_icon=str(ASSETS / "icon.png"), layout="wide")
    st.html(ASSETS / "screen.css")
    with st.container(key="menu"):
        own_script("menu")(key="menu_script")
    show_waits()
    with running_store().kept_open():
        person = signed_in()
        place, page = open_page(person)
        st.set_page_config(page_title=f"{place.title} \u2013 warmcurve")
        show_siblings(person, place)
        body = st.container()
        with st.container(horizontal=True, vertical_alignment="center", key="footer"):
            quiet(f"Signed in as {person.display_name}, {person.role}.")
            sign_out_form()
        show_fit_line(person)
        came_to(page.url_path)
        with body:
            show_broken_click()
            if person.limited and ask(list_athletes).empty:
                st.info(NOBODY_YET)
            show_waiting_files(person, place)
            page.run()
