"""Who may sign in, for the director."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from dashboard.club import account_table
from dashboard.club.rights_form import ask_rights
from dashboard.club.sight_words import sees
from dashboard.screen import elements, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from dashboard.sign_in.accounts import generate_password, hash_password, sign_in_name
from db.errors import StoreError
from db.people.accounts import (
    Person,
    add_person,
    list_people,
    set_active,
    set_email,
    set_password_hash,
    set_role,
)
from db.roster.squads import squad_names

EMAIL_LABEL = "E-mail, for the club's sign-in"

person = require("director")
st.title("Accounts")
store = running_store()
athletes = selection.athlete_labels()
if said := st.session_state.pop("accounts_said", None):
    st.success(said)
if handed := st.session_state.pop("accounts_password", None):
    st.info(f"Password of {handed[0]}, shown this once. Hand it over, then leave the page.")
    st.code(handed[1], language=None)

people, squads = ask(list_people), ask(squad_names)
seen = {each.person: ask(sees, each).removeprefix("sees ") for each in people}
st.dataframe(
    account_table.people(people, athletes, seen), hide_index=True, alt="Everybody with an account"
)


def finish(said: str, password: tuple[str, str] | None = None) -> None:
    """Show what was done, and a new password once."""
    st.session_state["accounts_said"] = said
    st.session_state["accounts_password"] = password
    st.session_state["accounts_round"] = st.session_state.get("accounts_round", 0) + 1
    st.rerun()


st.header("Add an account")
key = f"add_account_{st.session_state.get('accounts_round', 0)}"
with st.container(horizontal=True):
    name = st.text_input("Sign-in name", placeholder="such as first.last", key=f"{key}_name")
    shown_name = st.text_input(
        "Name as shown", placeholder="first and last name", key=f"{key}_shown"
    )
    email = st.text_input(EMAIL_LABEL, placeholder="none", key=f"{key}_email")
asked = ask_rights(store, Person("", "", "athlete"), athletes, squads, key)
if st.button("Add this account", type="primary", key="add_account"):
    password = generate_password()
    try:
        added = replace(
            asked,
            person=sign_in_name(name),
            display_name=shown_name.strip() or name.strip(),
            email=email.strip() or None,
        )
        add_person(store, added, hash_password(password), by=person.person)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        st.stop()
    finish(
        f"{added.display_name} can sign in as {added.role}, and {sees(store, added)}.",
        (added.person, password),
    )

st.header("Change an account")
by_name = {each.person: each for each in people}
chosen = by_name[
    st.selectbox(
        "Account",
        list(by_name),
        format_func=lambda name: f"{by_name[name].display_name} ({name})",
        key="accounts_chosen",
    )
]
elements.quiet("Every change signs the person out everywhere.")
try:
    with st.container(horizontal=True):
        if st.button("New password", key="new_password"):
            password = generate_password()
            set_password_hash(store, chosen.person, hash_password(password), by=person.person)
            finish(f"{chosen.display_name} has a new password.", (chosen.person, password))
        if st.button("Deactivate" if chosen.active else "Activate", key="switch_active"):
            set_active(store, chosen.person, not chosen.active, by=person.person)
            can = "cannot sign in any more" if chosen.active else "can sign in again"
            finish(f"{chosen.display_name} {can}.")
    with st.container(border=True):
        new = ask_rights(store, chosen, athletes, squads, f"change_role_{chosen.person}")
        if st.button("Change the role", key="change_role"):
            set_role(
                store,
                new.person,
                new.role,
                by=person.person,
                athlete=new.athlete,
                squads=new.squads,
                sees_all=new.sees_all,
            )
            finish(f"{new.display_name} is {new.role} from now on, and {sees(store, new)}.")
    with st.form(f"change_email_{chosen.person}"):
        new_email = st.text_input(EMAIL_LABEL, value=chosen.email or "", placeholder="none")
        if st.form_submit_button("Change the e-mail address"):
            set_email(store, chosen.person, new_email.strip() or None, by=person.person)
            knows = f"by {new_email.strip().lower()}" if new_email.strip() else "no more"
            finish(f"The club's sign-in knows {chosen.display_name} {knows}.")
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
