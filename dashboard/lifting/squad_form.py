"""The form of a session for a squad: maxima in, each athlete's own loads out."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
import streamlit as st

from dashboard.core.numbers import counted, figures
from dashboard.lifting.parts import SessionParts
from dashboard.lifting.squad_loads import (
    OwnSession,
    known_maxima,
    loaded,
    own_session,
    save_sessions,
)
from dashboard.screen import doing, elements, selection
from dashboard.screen.reads import ask, own_store
from db.errors import BadInput
from db.people.accounts import Person
from modeling.errors import ModelError


def show_squad_loads(person: Person, number: int, session: SessionParts) -> None:
    """Ask for maxima, show the loads that follow, and save a plan for each athlete chosen."""
    unit, parts = session.plan.load_unit, loaded(session)
    shares = ", ".join(
        f"{part.name} {part.working.load / part.maximum.value:.0%}".replace("%", "\u00a0%")
        for part in parts
        if part.working and part.maximum
    )
    st.write(f"Enter each athlete's maximum in {unit}. Everybody lifts the same share: {shares}.")
    names = selection.athlete_labels()
    known = ask(known_maxima, unit)
    columns = {part.planned.exercise: part.name for part in parts}
    given = pd.DataFrame(
        [[known.get(code, {}).get(each) for each in columns] for code in names],
        index=pd.Index(names.values(), name="athlete"),
        columns=list(columns.values()),
        dtype=float,
    )
    typed = st.data_editor(
        given,
        key=f"maxima_{number}_{doing.turn()}",
        height=min(38 + 35 * len(given), 420),
        placeholder="",
        column_config={
            name: st.column_config.NumberColumn(min_value=1.0, max_value=1000.0, format="%g")
            for name in columns.values()
        },
    )
    try:
        found = _own_sessions(session, names, columns, typed)
    except (BadInput, ModelError) as error:
        st.error(str(error))
        return
    if not found:
        elements.quiet("No maximum is known yet.")
        return
    st.table(
        pd.DataFrame(
            {
                "athlete": [names[each.athlete] for each in found],
                **{
                    f"{name}, {unit}": [_load(each, exercise) for each in found]
                    for exercise, name in columns.items()
                },
            }
        ),
        border="horizontal",
        hide_index=True,
        alt=f"Working loads of {len(found)} athletes",
    )
    if st.button(f"Save a plan for {counted(len(found), 'athlete')}", key=f"squad_{number}"):
        doing.do(
            f"{counted(len(found), 'plan')} saved: choose one above to see and print it.",
            lambda: save_sessions(own_store(), session.plan, found, person.person),
        )


def _own_sessions(
    session: SessionParts, names: Iterable[str], exercises: Iterable[str], typed: pd.DataFrame
) -> list[OwnSession]:
    """Return a session for each athlete with any maximum; `names` and rows share one order."""
    found = []
    for code, row in zip(names, typed.to_numpy(dtype=float), strict=True):
        given = zip(exercises, row, strict=True)
        maxima = {each: float(value) for each, value in given if not pd.isna(value)}
        if maxima:
            found.append(own_session(session, code, maxima))
    return found


def _load(own: OwnSession, exercise: str) -> str:
    load = next(each.load for each in own.exercises if each.exercise == exercise)
    return "\u2013" if load is None else figures(load, 6)
