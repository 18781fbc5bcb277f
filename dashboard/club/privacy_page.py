"""One athlete's data to hand over or to erase, and how long things are kept; for the director."""

from __future__ import annotations

from urllib.parse import quote

import streamlit as st

from dashboard.club import privacy_words
from dashboard.club.erase_form import erase_form
from dashboard.core.numbers import counted
from dashboard.screen import elements, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from db.errors import StoreError
from db.privacy.held_data import held
from db.privacy.retention import KINDS, apply_retention, due, keep_for, kept_days

person = require("director")
st.title("Privacy")
store = running_store()
if said := st.session_state.pop("privacy_said", None):
    st.success(said)


def finish(said: str) -> None:
    """Show what was done on the next run."""
    st.session_state["privacy_said"] = said
    st.rerun()


st.header("One athlete")
names = selection.athlete_labels(active_only=False)
if not names:
    selection.no_athletes_yet()
else:
    athlete = st.selectbox(
        "Athlete", list(names), format_func=lambda code: names[code], key="privacy_athlete"
    )
    elements.bullets(privacy_words.held_sentences(ask(held, athlete)))
    st.link_button(
        "Download everything about this athlete",
        at(f"/download/athlete.zip?athlete={quote(athlete)}"),
    )
    with st.expander("Erase this athlete for good"):
        if said := erase_form(store, athlete, person.person):
            finish(said)

st.header("How long things are kept")
elements.quiet("In days. Leave a box empty to keep for ever. Older rows are removed once a day.")
lengths = ask(kept_days)
with st.container(horizontal=True):
    chosen = {
        kind: st.number_input(
            privacy_words.KEPT[kind],
            min_value=KINDS[kind].fewest_days,
            max_value=36_500,
            value=lengths[kind],
            step=1,
            help=KINDS[kind].what,
            placeholder="for ever",
            key=f"keep_{kind}",
        )
        for kind in KINDS
    }
elements.bullets(
    f"{privacy_words.kept_sentence(KINDS[kind], chosen[kind])}."
    f" Older than that now: {counted(count, 'rows')}."
    for kind, count in ask(due, chosen).items()
)
try:
    with st.container(horizontal=True):
        if st.button("Save these times", key="keep_times", type="primary"):
            for kind, days in chosen.items():
                if days != lengths[kind]:
                    keep_for(store, kind, days, person.person)
            finish("Saved. Nothing has been removed yet.")
        if st.button("Remove older rows now", key="apply_times"):
            removed = apply_retention(store, person.person)
            told = ", ".join(f"{count} {kind}" for kind, count in removed.items() if count)
            finish(f"Removed: {told}." if told else "There was nothing older.")
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
