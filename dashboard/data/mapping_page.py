"""The saved readings of files with other columns, to rename or delete."""

from __future__ import annotations

import streamlit as st

from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.imports.kept_mappings import delete_mapping, get_mapping, list_mappings, rename_mapping
from db.readings.sentences import mapping_sentences

person = require("director", "coach")
st.title("Map columns")
store = own_store()


def finish(said: str) -> None:
    """Say what was done, on a page drawn anew."""
    st.session_state["mapping_said"] = said
    st.rerun()


if said := st.session_state.pop("mapping_said", None):
    st.success(said)
st.write(
    "You say once how a file with other columns is read. The import saves it under the name of"
    " that file, and reads every file with the same columns the same way."
)
saved = ask(list_mappings)
if not saved:
    st.info("Nothing is saved yet. Import a file with other columns: its reading is saved here.")
    st.page_link(elements.IMPORT_PAGE, label="Import a file")
    st.stop()
name = st.selectbox("Saved", saved, key="mapping_to_change")
elements.bullets(mapping_sentences(get_mapping(store, name)))
st.page_link(elements.IMPORT_PAGE, label="To change it, import a file like it and answer again")
new_name = st.text_input("New name", key=f"mapping_new_name_{name}")
sure = st.checkbox(
    "Delete it. What was imported by it stays, with its record.", key=f"mapping_sure_{name}"
)
with st.container(horizontal=True):
    rename = st.button("Rename", key="rename_mapping")
    delete = st.button("Delete", key="delete_mapping", disabled=not sure)
try:
    if rename:
        rename_mapping(store, name, new_name, person.person)
        finish(f"{name} is called {new_name.strip()} now. Commands need the new name too.")
    if delete:
        delete_mapping(store, name, person.person)
        finish(f"{name} is deleted. What was imported by it stays.")
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
