"""Who may sign in, for the director."""

from __future__ import annotations

import streamlit as st

from dashboard import page_parts, tables
from dashboard.access import require
from dashboard.accounts import generate_password, hash_password, sign_in_name
from dashboard.reads import ask
from dashboard.web_sessions import running_store
from db.errors import StoreError
from db.people import (
    ROLES,
    Person,
    add_person,
    list_people,
    set_active,
    set_email,
    set_password_hash,
    set_role,
)
from db.squads import squad_names

EMAIL_LABEL = "E-mail, for the club's sign-in"
SQUADS_LABEL = "Squads, for a coach who is limited to some"

person = require("director")
st.title("Accounts")
store = running_store()
athletes = page_parts.athlete_labels()
if said := st.session_state.pop("accounts_said", None):
    st.success(said)
if handed := st.session_state.pop("accounts_password", None):
    st.info(f"Password of {handed[0]}, shown this once. Hand it over, then leave the page.")
    st.code(handed[1], language=None)

people, squads = ask(list_people), ask(squad_names)
st.dataframe(tables.people(people, athletes), hide_index=True, alt="Everybody with an account")


def finish(said: str, password: tuple[str, str] | None = None) -> None:
    """Show what was done, and a new password once."""
    st.session_state["accounts_said"] = said
    st.session_state["accounts_password"] = password
    st.session_state["accounts_round"] = st.session_state.get("accounts_round", 0) + 1
    st.rerun()


st.header("Add an account")
with st.form(f"add_account_{st.session_state.get('accounts_round', 0)}"):
    with st.container(horizontal=True):
        name = st.text_input("Sign-in name", placeholder="such as first.last")
        shown_name = st.text_input("Name as shown", placeholder="first and last name")
        email = st.text_input(EMAIL_LABEL, placeholder="none")
    with st.container(horizontal=True):
        role = st.selectbox("Role", ROLES, index=ROLES.index("athlete"))
        athlete = st.selectbox(
            "Athlete, for the role athlete",
            list(athletes),
            index=None,
            format_func=lambda code: athletes[code],
            placeholder="Choose",
        )
        limits = st.multiselect(SQUADS_LABEL, squads, placeholder="All athletes")
    if st.form_submit_button("Add this account", type="primary"):
        password = generate_password()
        try:
            added = Person(
                person=sign_in_name(name),
                display_name=shown_name.strip() or name.strip(),
                role=role,
                athlete=athlete if role == "athlete" else None,
                squads=tuple(limits) if role == "coach" else (),
                email=email.strip() or None,
            )
            add_person(store, added, hash_password(password), by=person.person)
        except StoreError as error:
            st.error(f"{error.title}. {error.message}")
            st.stop()
        finish(f"{added.display_name} can sign in as {added.role}.", (added.person, password))

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
page_parts.quiet("Every change signs the person out everywhere.")
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
    with st.form(f"change_role_{chosen.person}"):
        with st.container(horizontal=True):
            new_role = st.selectbox("Role", ROLES, index=ROLES.index(chosen.role))
            codes = list(athletes)
            new_athlete = st.selectbox(
                "Athlete, for the role athlete",
                codes,
                index=codes.index(chosen.athlete) if chosen.athlete in codes else None,
                format_func=lambda code: athletes[code],
                placeholder="Choose",
            )
            new_limits = st.multiselect(
                SQUADS_LABEL,
                sorted({*squads, *chosen.squads}),
                default=list(chosen.squads),
                placeholder="All athletes",
            )
        if st.form_submit_button("Change the role"):
            set_role(
                store,
                chosen.person,
                new_role,
                by=person.person,
                athlete=new_athlete if new_role == "athlete" else None,
                squads=new_limits if new_role == "coach" else (),
            )
            finish(f"{chosen.display_name} is {new_role} from now on.")
    with st.form(f"change_email_{chosen.person}"):
        new_email = st.text_input(EMAIL_LABEL, value=chosen.email or "", placeholder="none")
        if st.form_submit_button("Change the e-mail address"):
            set_email(store, chosen.person, new_email.strip() or None, by=person.person)
            knows = f"by {new_email.strip().lower()}" if new_email.strip() else "no more"
            finish(f"The club's sign-in knows {chosen.display_name} {knows}.")
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
