"""The menu: an entry for each group of pages, and a row of links between the pages of one."""

from __future__ import annotations

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from dashboard.screen.menu import HOME, OWN, Place, places_of
from db.people.accounts import Person

KEPT_CHOICES = ("athlete", "measure")
"""What stays chosen from one page of a group to another."""


def open_page(person: Person) -> tuple[Place, StreamlitPage]:
    """Show the menu and return the page that is open.

    A group's entry leads to its first page. While another of its pages is open, the entry stands
    for that one and is marked. Streamlit says which page is open only once it has a menu, so it
    gets one twice.
    """
    place, _ = _shown_menu(person, None)
    return _shown_menu(person, place)


def show_siblings(person: Person, place: Place) -> None:
    """Show links to the other pages of a page's group, and its own name among them."""
    siblings = places_of(person.role)[place.group]
    if place.group == OWN or len(siblings) < 2:
        return
    chosen = {key: st.query_params[key] for key in KEPT_CHOICES if key in st.query_params}
    with st.container(horizontal=True, vertical_alignment="center", key="siblings"):
        for each in siblings:
            if each == place:
                st.markdown(f"**{each.title}**", width="content")
            else:
                st.page_link(each.file, label=each.title, query_params=chosen, width="content")


def _shown_menu(person: Person, opened: Place | None) -> tuple[Place, StreamlitPage]:
    home = HOME[person.role]
    sections: dict[str, list[StreamlitPage]] = {}
    places: dict[str, Place] = {}
    for group, members in places_of(person.role).items():
        if group == OWN:
            entries, header = members, person.display_name
        else:
            entries, header = [opened if opened in members else members[0]], ""
        section = sections.setdefault(header, [])
        for place in members:
            # Home is at the bare address, and also at its name if somebody types that.
            addresses = ["home", place.address] if place.script == home else [place.address]
            for path in addresses:
                shown = place in entries and path == addresses[0]
                page = st.Page(
                    place.file,
                    title=place.title if group == OWN else group,
                    url_path=path,
                    default=path == "home",
                    visibility="visible" if shown else "hidden",
                )
                section.append(page)
                places[path] = place
    page = st.navigation(sections, position="top")
    return places[page.url_path or "home"], page
