"""Several athletes at once: into a squad, out of one, retired or brought back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import streamlit as st

from dashboard.core.numbers import counted
from dashboard.roster.athlete_table import labels, squads_of
from dashboard.screen import doing
from dashboard.screen.reads import own_store
from db.errors import BadInput
from db.people.accounts import Person
from db.roster.athlete_changes import Athlete, change_athletes

Change = Callable[[Athlete, str], Athlete]
CHANGES: Mapping[str, Change] = {
    "Move to": lambda each, squad: replace(each, squads=(squad,)),
    "Also put into": lambda each, squad: replace(each, squads=(*each.squads, squad)),
    "Take out of": lambda each, squad: replace(
        each, squads=tuple(name for name in each.squads if name != squad)
    ),
    "Retire": lambda each, _: replace(each, active=False),
    "Bring back": lambda each, _: replace(each, active=True),
}
WITH_SQUAD = ("Move to", "Also put into", "Take out of")


def several_form(person: Person, athletes: Sequence[Athlete]) -> None:
    """Ask for athletes and what to do with them, and do it."""
    key = f"roster_several_{doing.turn()}"
    shown, by_code = labels(athletes), {each.athlete: each for each in athletes}
    what = st.segmented_control(
        "What to do", list(CHANGES), default="Move to", required=True, key=f"{key}_what"
    )
    squad = ""
    if what in WITH_SQUAD:
        squad = (
            st.selectbox(
                "Squad",
                squads_of(athletes),
                None,
                accept_new_options=what != "Take out of",
                placeholder="Choose" if what == "Take out of" else "Choose or type a new one",
                key=f"{key}_squad",
            )
            or ""
        )
    offered = [each.athlete for each in athletes if offers(what, squad, each)]
    codes = st.multiselect(
        "Athletes",
        offered,
        format_func=shown.__getitem__,
        placeholder="Choose",
        key=f"{key}_athletes",
    )
    if st.button(f"{what} {squad}".strip(), type="primary", key=f"{key}_do"):
        doing.do(
            f"{counted(len(codes), 'athlete')} changed.",
            lambda: _change(person, what, squad, [by_code[code] for code in codes]),
        )


def offers(what: str, squad: str, athlete: Athlete) -> bool:
    """Tell whether a change would make any difference to an athlete."""
    if what in WITH_SQUAD and not squad:
        return what != "Take out of" or bool(athlete.squads)
    return CHANGES[what](athlete, squad) != athlete


def _change(person: Person, what: str, squad: str, chosen: Sequence[Athlete]) -> None:
    if what in WITH_SQUAD and not squad.strip():
        raise BadInput("Choose the squad first, or type the name of a new one.")
    if not chosen:
        raise BadInput("Choose at least one athlete.")
    changed = [CHANGES[what](each, squad.strip()) for each in chosen]
    change_athletes(own_store(), changed, person.person)
