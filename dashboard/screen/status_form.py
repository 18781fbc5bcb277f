"""The form where staff set an athlete's status: fit, modified or out, and since when."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.core import columns
from dashboard.core.numbers import Row
from dashboard.rules import status_words
from dashboard.screen import doing, elements, selection
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.statuses import LONGEST_REASON, STATUSES, set_status, standings, status_history


def able_labels() -> dict[str, str]:
    """Return the labels of the active athletes who may be tested and advised."""
    rows = ask(standings)
    blocked = set(rows.loc[rows["blocked"], "athlete"])
    return {code: name for code, name in selection.athlete_labels().items() if code not in blocked}


def left_out() -> pd.DataFrame:
    """Return the active athletes who may not be tested, as in `db.roster.statuses.standings`."""
    rows = ask(standings)
    return rows[rows["blocked"] & rows["athlete"].isin(list(selection.athlete_labels()))]


def show_left_out() -> None:
    """Say who gets no length today, and who is modified."""
    said = status_words.left_out_sentence(left_out())
    if said:
        st.warning(said)
    elements.bullets(status_words.modified_sentences(ask(standings), able_labels()))


def show_status(person: Person, athlete: str, name: str) -> bool:
    """Show an athlete's status with a form to change it; tell whether the athlete is blocked."""
    row = elements.row_of(ask(standings), athlete)
    doing.show_said()
    blocked = row is not None and bool(row["blocked"])
    if row is not None and (sentence := status_words.standing_sentence(row)):
        (st.warning if blocked else st.info)(sentence)
    with st.expander(f"Status: {'pain' if _pain(row) else _label(row)}", expanded=blocked):
        _ask_status(person, athlete, name, "fit" if row is None else row["status"])
        history = ask(status_history, athlete)
        if not history.empty:
            st.dataframe(
                status_words.history_table(history),
                hide_index=True,
                column_config={"since": columns.days("since")},
                alt=f"How {name} was",
            )
    return blocked


def _pain(row: Row | None) -> bool:
    return row is not None and not pd.isna(row["pain_day"])


def _label(row: Row | None) -> str:
    return status_words.LABELS["fit" if row is None else row["status"]].lower()


def _ask_status(person: Person, athlete: str, name: str, now: str) -> None:
    elements.quiet(status_words.MEANINGS)
    with st.form(f"status_{athlete}_{doing.turn()}", border=False):
        with st.container(horizontal=True, vertical_alignment="bottom"):
            status = st.selectbox(
                "Status",
                STATUSES,
                STATUSES.index(now),
                format_func=status_words.LABELS.__getitem__,
                key=f"status_which_{athlete}",
            )
            since = st.date_input(
                "Since", date.today(), key=f"status_since_{athlete}", format="YYYY-MM-DD"
            )
            reason = st.text_input(
                "Reason, in a few words",
                key=f"status_reason_{athlete}",
                max_chars=LONGEST_REASON,
                placeholder="such as: no sprints",
            )
        if st.form_submit_button("Save the status"):
            doing.do(
                f"{name}: {status_words.LABELS[status].lower()}.",
                lambda: set_status(own_store(), athlete, status, since, reason, person.person),
            )
