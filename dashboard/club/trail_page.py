"""Who did what when, for the director: to read, never to change."""

from __future__ import annotations

import streamlit as st

from dashboard.core import columns
from dashboard.core.numbers import counted
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from db.efforts.rows import data_summary
from db.privacy.trail import trail, trail_choices, trail_length

SHOWN_ROWS = 500

person = require("director")
st.title("Trail")
st.write(
    "Every write to the store leaves a line here, made in the same step as the write. Nothing in"
    " this program changes or removes a line, but for erasing an athlete and the time that lines"
    " are kept, which stand on the page 'Privacy'."
)
if ask(data_summary).empty:
    st.info("No efforts yet. Import a file or enter a session, and it will stand here.")
with st.container(horizontal=True):
    people = st.multiselect(
        "Who", ask(trail_choices, "person"), key="trail_people", placeholder="Everybody"
    )
    actions = st.multiselect(
        "What", ask(trail_choices, "action"), key="trail_actions", placeholder="Everything"
    )
count = ask(trail_length, tuple(people), tuple(actions))
if not count:
    st.info("No line fits this choice. Take a name or a kind out of it.")
    st.stop()
rows = ask(trail, tuple(people), tuple(actions), SHOWN_ROWS)
newest = f"; the newest {SHOWN_ROWS} are shown" if count > SHOWN_ROWS else ""
elements.quiet(f"{counted(count, 'line')}{newest}. Times are UTC.")
st.dataframe(
    rows[["happened_at", "person", "action", "detail", "revision"]],
    hide_index=True,
    column_config={
        "happened_at": columns.moments("when", timezone="UTC"),
        "person": "who",
        "action": "what",
        "detail": "to what",
        "revision": columns.values("number"),
    },
    alt="Who did what when, newest first",
)
