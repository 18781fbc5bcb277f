"""A person's own account: a new password, and the browsers they are signed in with."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import streamlit as st

from dashboard.club.sight_words import sees
from dashboard.core import dates, numbers
from dashboard.screen import elements, units
from dashboard.screen.access import require, web_session
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import own_sign_ins, running_store, session_id
from dashboard.sign_in.accounts import LONGEST_PASSWORD, SHORTEST_PASSWORD, change_own_password
from db.errors import StoreError
from db.people.accounts import close_all_web_sessions, close_web_session

person = require("director", "coach", "athlete")
st.title("My account")
store, here = running_store(), web_session()
st.write(f"{person.display_name}, {person.role}. You sign in as **{person.person}**.")
if person.email:
    st.write(f"The club's sign-in, where there is one, knows you by **{person.email}**.")
if person.role == "coach":
    st.write(f"This account {ask(sees, person)}.")
if said := st.session_state.pop("account_said", None):
    st.success(said)
form_round = st.session_state.setdefault("account_round", 0)


def finish(said: str) -> None:
    """Show what was done, and an empty form."""
    st.session_state["account_said"] = said
    st.session_state["account_round"] += 1
    st.rerun()


if person.role == "athlete":
    st.header("Your data")
    st.write(
        "Your sessions with every effort, your results and plans, as tables that a spreadsheet"
        " opens. What else names you, such as the record of who did what, your coach or director"
        " hands you on request."
    )
    st.link_button("Take my data with me (zip)", at("/download/my-data.zip"))

if person.role == "director":
    st.header("Units on screens, for everybody")
    chosen = st.segmented_control(
        "Units",
        units.SYSTEMS,
        default=units.system(),
        required=True,
        key="units_on_screens",
        help="Imperial: inches, feet, pounds, degrees Fahrenheit. Files and whatever is typed stay"
        " in the measure's own unit.",
    )
    if chosen != units.system():
        units.keep_system(store, chosen, person.person)
        finish("The units are saved.")

st.header("Change the password")
with st.form(f"own_password_{form_round}"):
    current, new, repeated = (
        st.text_input(
            label, type="password", key=f"own_password_{form_round}_{part}", autocomplete=hint
        )
        for part, label, hint in (
            ("current", "Current password", "current-password"),
            ("new", "New password", "new-password"),
            ("repeated", "New password again", "new-password"),
        )
    )
    elements.quiet(
        f"{SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters of any kind. Three or four plain"
        " words that do not belong together make a good one. It signs you out everywhere else."
    )
    submitted = st.form_submit_button("Change the password", type="primary")
if submitted:
    try:
        change_own_password(store, person, here, current, new, repeated)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
    else:
        finish("The password is changed. You are signed out everywhere else.")

st.header("Where you are signed in")
others = [each for each in own_sign_ins(store, person) if each.token_sha256 != here]
if not others:
    st.write("In this browser only.")
    st.stop()
st.write(f"In this browser, and in {numbers.counted(len(others), 'other')} since:")
zone = ZoneInfo(st.context.timezone or "UTC")
for each in others:
    # A button's key reaches the browser, so it must not be the name that the store knows.
    name = session_id(each.token_sha256)[:16]
    with st.container(horizontal=True, vertical_alignment="center"):
        st.write(dates.moment(each.opened_at.astimezone(zone), "long"))
        if st.button("Sign out there", key=f"sign_out_{name}"):
            close_web_session(store, each.token_sha256)
            finish("That browser is signed out.")
if st.button("Sign out everywhere else", key="sign_out_others"):
    close_all_web_sessions(store, person.person, keep_open=here)
    finish("You are signed out everywhere else.")
