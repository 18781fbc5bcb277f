"""Who looks at a page; every run of every page asks the store."""

from __future__ import annotations

import streamlit as st

from dashboard.screen.menu import at
from dashboard.screen.web_sessions import form_token, person_of, running_store
from db.people.accounts import Person

PLURALS = {"director": "directors", "coach": "coaches", "athlete": "athletes"}
SIGN_OUT_FORM = """
<form method="post" action="{action}">
<input type="hidden" name="form_token" value="{form_token}">
<button style="min-height: 2.5rem; padding: 0 1rem; font: inherit; color: inherit; cursor: pointer;
background: none; border: 1px solid currentColor; border-radius: 0.5rem">Sign out</button>
</form>
"""


def signed_in() -> Person:
    """Return who looks at this page; without an open web session, say so and stop."""
    sid = web_session()
    person = person_of(running_store(), sid) if sid else None
    if person is None:
        st.title("You are signed out")
        st.write("Sign in to go on. Nothing that was saved is lost.")
        st.html(f'<a href="{at("/signin")}">Sign in</a>')
        st.stop()
    return person


def require(*roles: str) -> Person:
    """Return who looks at this page; tell people with another role so, and stop."""
    person = signed_in()
    if person.role not in roles:
        _refuse(f"This page is for {' and '.join(PLURALS[role] for role in roles)}.")
    return person


def require_athlete(person: Person, code: str | None) -> None:
    """Stop the page if an athlete asks for somebody else's data."""
    if person.role == "athlete" and (code is None or code != person.athlete):
        _refuse("You see your own data only.")


def sign_out_form() -> None:
    """Show a button that signs this browser out."""
    st.html(SIGN_OUT_FORM.format(action=at("/signout"), form_token=form_token(web_session())))


def web_session() -> str:
    """Return the store's id of this browser's web session."""
    return str(st.user.get("sid") or "")


def _refuse(sentence: str) -> None:
    st.title("Not for this account")
    st.write(f"{sentence} Choose a page from the menu.")
    st.stop()
