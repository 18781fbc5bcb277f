"""Choose a measure or athletes, with the choice in the page's address."""

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
"""Session keys for the open page, the choices already written to its address, and the last
choices."""


def choose(
    label: str, labels: Mapping[str, str], key: str, usual: str = "", meaning: str | None = None
) -> str:
    """Let the reader choose a code by its label, and put the code into the page's address.

    Streamlit's own binding would write labels there, so people's names would end up in browser
    histories and proxy logs. A code in the address that is not offered is ignored.
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
    # Only once each time the page is opened. Otherwise people who go back to an address without
    # a choice would be sent forward again, and never get back to the page before.
    if key not in st.session_state.setdefault(TOLD, set()):
        st.session_state[TOLD].add(key)
        if st.query_params.get(key, usual) != chosen:
            st.query_params[key] = chosen
    return chosen


def came_to(path: str) -> None:
    """Note which page is open, so that a newly opened one writes its choices to its address."""
    if st.session_state.get(OPEN_PAGE) != path:
        st.session_state[OPEN_PAGE] = path
        st.session_state[TOLD] = set()


def choose_several(label: str, labels: Mapping[str, str], key: str, placeholder: str) -> list[str]:
    """Let the reader choose codes by their labels, and put the codes into the page's address."""
    asked = st.query_params.get_all(key) or st.session_state.get(key, [])
    # Set each time: when the field comes back to a page that was without it, a choice that is
    # only remembered would count here but not show there.
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
    # Remember it now: going straight to another page ends the run that would have done it.
    st.session_state.setdefault(CHOSEN, {})[key] = st.session_state[key]
    st.query_params[key] = st.session_state[key]


def choose_measure() -> Measure:
    """Let the reader choose among the measures that have data, or all when none has."""
    offered = measures_with_data() or measures_by_code()
    names = {code: measure.name for code, measure in offered.items()}
    return offered[choose("Measure", names, "measure", meaning=terms.meaning("measure"))]


def measures_by_code() -> dict[str, Measure]:
    """Return every measure: those with data, the one chosen to begin with, and the others."""
    others, begun = {each.code: each for each in ask(list_measures)}, ask(begun_with)
    first = {begun: others[begun]} if begun in others else {}
    return measures_with_data() | first | others


def measures_with_data() -> dict[str, Measure]:
    """Return the measures that have usable efforts or curves."""
    return {each.code: each for each in ask(measures_in_use)}


def athlete_labels(active_only: bool = True) -> dict[str, str]:
    """Return the name of every athlete by code; a name that two share has the code added."""
    people = ask(list_athletes, active_only=active_only).sort_values("name")
    doubled = people["name"].duplicated(keep=False)
    labels = people["name"].where(~doubled, people["name"] + " (" + people["athlete"] + ")")
    return dict(zip(people["athlete"], labels, strict=True))


def choose_athlete(names: Mapping[str, str]) -> str:
    """Let the reader choose one of some athletes.

    If there are none, it says how to add athletes, and the page stops.
    """
    if not names:
        no_athletes_yet()
        st.stop()
    athlete = choose("Athlete", names, "athlete")
    view_notes.note_view_today(athlete)
    return athlete


def no_athletes_yet() -> None:
    """Say how to add athletes."""
    st.info(
        "There are no athletes yet. Import a file of athletes, or a file of efforts and let the"
        " import add the athletes in it."
    )
    st.page_link(IMPORT_PAGE, label="Import a file")
