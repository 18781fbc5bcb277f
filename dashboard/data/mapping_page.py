"""How a file with other columns, other units or efforts side by side is to be read."""

from __future__ import annotations

import hashlib

import streamlit as st

from dashboard.core import numbers
from dashboard.data import preview
from dashboard.data.mapping_form import mapping_form
from dashboard.screen import elements, selection
from dashboard.screen.access import require
from dashboard.screen.file_choice import choose_rows, choose_sheet, reading
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.imports.kept_mappings import (
    delete_mapping,
    get_mapping,
    list_mappings,
    mapped_by,
    rename_mapping,
    save_mapping,
)
from db.imports.storing import check_rows
from db.roster.measures import list_measures
from db.tables.text_tables import read_text_table

KEY = "mapping"
NEW = "A new mapping"

person = require("director", "coach")
st.title("Map columns")
store = own_store()


def finish(said: str) -> None:
    """Say what was done over the page drawn anew."""
    st.session_state["mapping_said"] = said
    st.rerun()


def change_saved() -> None:
    """Let a saved mapping be renamed or deleted."""
    name = st.selectbox("Mapping", saved, key="mapping_to_change")
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


if said := st.session_state.pop("mapping_said", None):
    st.success(said)
    st.page_link(elements.IMPORT_PAGE, label="Import a file by it")
st.write(
    "For files with other column names, other units, or the efforts of a session side by side."
    " Say once where each column comes from, and save it under a name: the import offers it."
)
saved = ask(list_mappings)
if saved:
    elements.quiet(f"Saved: {numbers.listed(saved)}.")
    with st.expander("Rename or delete a saved mapping"):
        change_saved()
chosen = choose_rows(KEY)
if chosen is None:
    st.info("Choose a file of the kind to be read, or paste some of its rows.")
    st.stop()
try:
    sheet = choose_sheet(chosen, KEY)
    with reading(KEY) as progress:
        table = read_text_table(chosen.content, chosen.name, sheet, progress)
    columns = [str(column) for column in table.frame]
    start = st.selectbox("Start from", [NEW, *saved], key="mapping_start")
    elements.quiet("The first rows of the file:")
    st.dataframe(table.frame.head(3), hide_index=True, alt="The first rows of the file")
    begun = hashlib.sha256(repr((columns, start)).encode()).hexdigest()[:8]
    mapping = mapping_form(
        table.frame,
        ask(list_measures),
        selection.athlete_labels(active_only=False),
        None if start == NEW else get_mapping(store, start),
        f"mapping_{begun}",
    )
    with reading(KEY, "judged") as progress:
        seen = mapped_by(store, table, mapping)
        check = check_rows(store, seen, not person.limited, progress)
    st.header("As it would be saved")
    preview.show_import(table.name, check)
    name = st.text_input(
        "Name of the mapping", "" if start == NEW else start, key=f"mapping_name_{begun}"
    )
    if name.strip() in saved:
        elements.quiet("There is one of this name: it would be replaced.")
    if st.button("Save this mapping", type="primary", key="save_mapping"):
        save_mapping(store, name, mapping, person.person)
        finish(f"Saved as {name.strip()}.")
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
