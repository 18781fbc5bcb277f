"""Choosing a measure or athletes; the address of the page tells what is chosen."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from dashboard.core import terms
from dashboard.screen import view_notes
from dashboard.screen.elements import IMPORT_PAGE
from dashboard.screen.reads import ask, measures_in_use
from db.people.first_run import begun_with
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, list_measures

OPEN_PAGE, TOLD, CHOSEN = "open_page", "told_address", "chosen_last"
"""Where the session keeps the page that is open, the choices that its address was told, and what
was chosen last."""


def choose(
    label: str, labels: Mapping[str, str], key: str, usual: str = "", meaning: str | None = None
) -> str:
    """Let the reader choose one of some codes by its label; the address of the page tells the code.

    Streamlit's own binding would write labels there, and so people's names into the history of
    browsers and the logs of proxies. What the address asks for and is not offered is passed over.
    """
    usual = usual or next(iter(labels))
    kept = st.session_state.setdefault(CHOSEN, {})
    wanted = [st.query_params.get(key, ""), kept.get(key, ""), st.session_state.get(key, ""), usual]
    chosen = next(code for code in wanted if code in labels)
    st.session_state[key] = kept[key] = chosen
    st.selectbox(
        label,
        list(labels),
        format_func=labels.__getitem__,
        key=key,
        help=meaning,
        on_change=_tell_address,
        args=(key,),
        persist_state="session",
    )
    # Once for each time the page is opened: who comes back to an address without a choice would
    # otherwise be sent forward again, and never get back to the page before.
    if key not in st.session_state.setdefault(TOLD, set()):
        st.session_state[TOLD].add(key)
        if st.query_params.get(key, usual) != chosen:
            st.query_params[key] = chosen
    return chosen


def came_to(path: str) -> None:
    """Note which page is open, so that one opened anew tells its address what is chosen."""
    if st.session_state.get(OPEN_PAGE) != path:
        st.session_state[OPEN_PAGE] = path
        st.session_state[TOLD] = set()


def choose_several(label: str, labels: Mapping[str, str], key: str, placeholder: str) -> list[str]:
    """Let the reader choose some codes by their labels; the address of the page tells the codes."""
    asked = st.query_params.get_all(key) or st.session_state.get(key, [])
    # Said each time: where the field comes back to a page that was without it, what is only
    # remembered would be chosen here and not shown there.
    st.session_state[key] = [code for code in asked if code in labels]
    return st.multiselect(
        label,
        list(labels),
        format_func=labels.__getitem__,
        placeholder=placeholder,
        key=key,
        on_change=_tell_address,
        args=(key,),
    )


def _tell_address(key: str) -> None:
    # Kept at once: whoever turns the page at once ends the run that would have kept it.
    st.session_state.setdefault(CHOSEN, {})[key] = st.session_state[key]
    st.query_params[key] = st.session_state[key]


def choose_measure() -> Measure:
    """Let the reader choose among the measures that have data, or all when none has."""
    offered = measures_with_data() or measures_by_code()
    names = {code: measure.name for code, measure in offered.items()}
    return offered[choose("Measure", names, "measure", meaning=terms.meaning("measure"))]


def measures_by_code() -> dict[str, Measure]:
    """Return every measure: those that have data, the one begun with, and the others."""
    others, begun = {each.code: each for each in ask(list_measures)}, ask(begun_with)
    first = {begun: others[begun]} if begun in others else {}
    return measures_with_data() | first | others


def measures_with_data() -> dict[str, Measure]:
    """Return the measures that have usable efforts or curves."""
    return {each.code: each for each in ask(measures_in_use)}


def athlete_labels(active_only: bool = True) -> dict[str, str]:
    """Return the name of every athlete by code; a name that two share carries the code."""
    people = ask(list_athletes, active_only=active_only).sort_values("name")
    doubled = people["name"].duplicated(keep=False)
    labels = people["name"].where(~doubled, people["name"] + " (" + people["athlete"] + ")")
    return dict(zip(people["athlete"], labels, strict=True))


def choose_athlete(names: Mapping[str, str]) -> str:
    """Let the reader choose one of some athletes.

    Without any it says how athletes come into the store, and the page ends.
    """
    if not names:
        no_athletes_yet()
        st.stop()
    athlete = choose("Athlete", names, "athlete")
    view_notes.note_view_today(athlete)
    return athlete


def no_athletes_yet() -> None:
    """Say how athletes come into the store."""
    st.info(
        "There are no athletes yet. Import a file of athletes, or a file of efforts and let the"
        " import add the athletes in it."
    )
    st.page_link(IMPORT_PAGE, label="Import a file")
