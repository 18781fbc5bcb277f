"""The form for what an account may see, which shows whom that is before it is saved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import streamlit as st

from dashboard.club.sight_words import seen_athletes, sees
from dashboard.screen.elements import quiet
from db.file.store import Store
from db.people.accounts import Person
from db.people.roles import ROLES

SQUADS, ALL_ATHLETES = "Squads", "All athletes"
NO_SQUADS = "There are no squads yet: put athletes into one on the page People and squads."
TABLE_PIXELS = 220


def ask_rights(
    store: Store, account: Person, athletes: Mapping[str, str], squads: Sequence[str], key: str
) -> Person:
    """Ask for the role and the rights of an account, and return the account with them.

    Parameters
    ----------
    store
        To count whom the account would see.
    account
        As it is now.
    athletes
        Names by code.
    squads
        Names of all squads.
    key
        Sets the widgets of this account apart from those of others.
    """
    with st.container(horizontal=True, vertical_alignment="bottom"):
        role = st.selectbox("Role", ROLES, ROLES.index(account.role), key=f"{key}_role")
        asked = replace(account, role=role, athlete=None, squads=(), sees_all=False)
        if role == "athlete":
            codes = list(athletes)
            athlete = st.selectbox(
                "Athlete",
                codes,
                codes.index(account.athlete) if account.athlete in codes else None,
                format_func=lambda code: athletes[code],
                placeholder="Choose",
                key=f"{key}_athlete",
            )
            asked = replace(asked, athlete=athlete)
        elif role == "coach":
            asked = _ask_sight(asked, account, squads, key)
    if role != "athlete" or asked.athlete:
        quiet(f"With this the account **{sees(store, asked)}**.")
    if role != "athlete" and len(seen := seen_athletes(store, asked)):
        # Kept short: it shows at a glance who is meant, not the whole squad.
        st.dataframe(seen, hide_index=True, height=TABLE_PIXELS, alt="Whom the account would see")
    return asked


def _ask_sight(asked: Person, account: Person, squads: Sequence[str], key: str) -> Person:
    """Ask which athletes a coach sees; nobody, until squads or all are chosen."""
    now = ALL_ATHLETES if account.sees_all else SQUADS if account.squads else None
    whom = st.segmented_control(
        "Which athletes the coach sees", [SQUADS, ALL_ATHLETES], default=now, key=f"{key}_whom"
    )
    if whom == ALL_ATHLETES:
        return replace(asked, sees_all=True)
    if whom == SQUADS:
        offered = sorted({*squads, *account.squads})
        if not offered:
            quiet(NO_SQUADS)
            return asked
        chosen = st.multiselect(
            "Squads",
            offered,
            list(account.squads),
            placeholder="Choose one or more",
            key=f"{key}_squads",
        )
        return replace(asked, squads=tuple(sorted(chosen)))
    return asked
