"""Every import with its counts, and a way to take one back whole."""

from __future__ import annotations

import streamlit as st

from dashboard.core import columns, numbers
from dashboard.data import preview
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.imports.undo import depends_on_import, imports_with_undo, take_back_import

person = require("director", "coach")
st.title("Past imports")
if said := st.session_state.pop("imports_said", None):
    st.success(said)

rows = ask(imports_with_undo)
if rows.empty:
    st.info("Nothing was imported yet. Every file that you import is listed here with its counts.")
    st.page_link(elements.IMPORT_PAGE, label="Import a file")
    st.stop()
st.write("Every row of a file is saved, already known, or set aside.")
st.dataframe(
    preview.past_imports(rows),
    hide_index=True,
    placeholder="",
    column_config={
        moment: columns.moments(moment, timezone=st.context.timezone)
        for moment in ("imported", "taken back")
    },
    alt="Imports with their counts of rows, and those that were taken back",
)

st.header("Take an import back")
standing = rows[rows["taken_back_at"].isna()]
if person.limited:
    st.write("Only somebody who sees every athlete can take an import back. Ask the director.")
    st.stop()
if standing.empty:
    st.write("Every import has been taken back. Their files can be imported again.")
    st.stop()
st.write(
    "The efforts from the file will no longer be used. They stay on record, with who took them"
    " back and why, and the file can be imported again."
)
files = {
    int(row["batch_id"]): f"{row['file']}, import {row['batch_id']},"
    f" {numbers.counted(int(row['stored']), 'effort')} saved"
    for row in standing.to_dict("records")
}
chosen = st.selectbox("Import", list(files), format_func=lambda batch: files[batch])
if depending := ask(depends_on_import, chosen):
    st.info("This import cannot be taken back, as newer work depends on it.")
    elements.bullets(f"{sentence}." for sentence in depending)
    st.stop()
with st.form(f"take_back_{chosen}"):
    reason = st.text_input("Why", placeholder="such as wrong file, or wrong day")
    asked = st.form_submit_button("Take this import back", type="primary")
if asked:
    try:
        taken = take_back_import(own_store(), chosen, person.person, reason)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
    else:
        st.session_state["imports_said"] = (
            f"{files[chosen].split(',')[0]} was taken back:"
            f" {numbers.counted(taken, 'effort')} are no longer used."
        )
        st.rerun()
