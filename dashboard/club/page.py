"""Who may sign in, for the director."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import streamlit as st

from dashboard.club import account_table
from dashboard.club.rights_form import ask_rights
from dashboard.club.sight_words import sees
from dashboard.screen import elements, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from dashboard.sign_in.accounts import generate_password, hash_password, sign_in_name
from dashboard.sign_in.invited import LINK_DAYS, make_invitation, unusable_hash
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
from db.people.invitations import open_invitations
from db.roster.squads import squad_names

LINK, PASSWORD = "By a link, once", "With a password that is shown once"
EMAIL_LABEL = "E-mail, for the club's sign-in"

person = require("director")
st.title("Accounts")
store = running_store()
athletes = selection.athlete_labels()
if said := st.session_state.pop("accounts_said", None):
    st.success(said)
if handed := st.session_state.pop("accounts_handed", None):
    st.info(handed[0])
    st.code(handed[1], language=None, wrap_lines=True)

people, squads = ask(list_people), ask(squad_names)
invited = open_invitations(store, datetime.now(UTC))
seen = {each.person: ask(sees, each).removeprefix("sees ") for each in people}
st.dataframe(
    account_table.people(people, athletes, seen, invited),
    hide_index=True,
    alt="Everybody with an account",
)


def finish(said: str, handed: tuple[str, str] | None = None) -> None:
    """Show what was done and, only once, what to hand over: a sentence and the secret."""
    st.session_state["accounts_said"] = said
    st.session_state["accounts_handed"] = handed
    st.session_state["accounts_round"] = st.session_state.get("accounts_round", 0) + 1
    st.rerun()


def link_for(account: Person) -> tuple[str, str]:
    """Make a link for somebody, to be shown once."""
    path = make_invitation(store, account.person, person.person)
    return (
        f"Link for {account.display_name}, shown this once. It opens once, within {LINK_DAYS} days;"
        " send it to nobody else.",
        elements.host() + at(path),
    )


def password_of(account: Person, password: str) -> tuple[str, str]:
    """Return a password to be shown once."""
    return (
        f"Password of {account.person}, shown this once. Hand it over, then leave the page.",
        password,
    )


st.header("Add an account")
key = f"add_account_{st.session_state.get('accounts_round', 0)}"
with st.container(horizontal=True):
    name = st.text_input("Sign-in name", placeholder="such as first.last", key=f"{key}_name")
    shown_name = st.text_input(
        "Name as shown", placeholder="first and last name", key=f"{key}_shown"
    )
    email = st.text_input(EMAIL_LABEL, placeholder="none", key=f"{key}_email")
asked = ask_rights(store, Person("", "", "athlete"), athletes, squads, key)
by_link = st.segmented_control(
    "How they get in",
    [LINK, PASSWORD],
    default=LINK,
    required=True,
    key=f"{key}_way",
    help="With the link they choose a password of their own, which nobody else ever knows.",
)
if st.button("Add this account", type="primary", key="add_account"):
    password = generate_password()
    try:
        added = replace(
            asked,
            person=sign_in_name(name),
            display_name=shown_name.strip() or name.strip(),
            email=email.strip() or None,
        )
        hashed = unusable_hash() if by_link == LINK else hash_password(password)
        add_person(store, added, hashed, by=person.person)
        handed = link_for(added) if by_link == LINK else password_of(added, password)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        st.stop()
    finish(f"{added.display_name} can sign in as {added.role}, and {sees(store, added)}.", handed)

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
elements.quiet("Every change but a new link signs the person out everywhere.")
try:
    with st.container(horizontal=True):
        if st.button("New link to choose a password", key="new_link"):
            link = link_for(chosen)
            finish(f"{chosen.display_name} can choose a new password; the old one holds on.", link)
        if st.button("New password", key="new_password"):
            password = generate_password()
            set_password_hash(store, chosen.person, hash_password(password), by=person.person)
            finish(f"{chosen.display_name} has a new password.", password_of(chosen, password))
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
