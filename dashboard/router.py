"""What Streamlit runs: the pages of whoever is signed in, and a way out under each."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from dashboard.access import sign_out_form, signed_in
from dashboard.page_parts import quiet
from dashboard.sheet import ASSETS


@dataclass(frozen=True)
class Place:
    """A page: its script in `app_pages`, its title and who may open it."""

    script: str
    title: str
    roles: tuple[str, ...]


PLACES = (
    Place("squad", "Squad", ("director",)),
    Place("before_session", "Before the session", ("director", "coach")),
    Place("athlete", "Athlete", ("director", "coach")),
    Place("enter_efforts", "Enter efforts", ("director", "coach")),
    Place("import_efforts", "Import", ("director", "coach")),
    Place("accounts", "Accounts", ("director",)),
    Place("my_warm_up", "My warm-up", ("athlete",)),
)

st.set_page_config(page_title="warmcurve", page_icon=str(ASSETS / "icon.png"), layout="wide")
person = signed_in()
page = st.navigation(
    [
        st.Page(
            f"app_pages/{place.script}.py",
            title=place.title,
            url_path=place.script.replace("_", "-"),
        )
        for place in PLACES
        if person.role in place.roles
    ],
    position="top",
)
body = st.container()
with st.container(horizontal=True, vertical_alignment="center", key="footer"):
    quiet(f"Signed in as {person.display_name}, {person.role}.")
    sign_out_form()
with body:
    page.run()
