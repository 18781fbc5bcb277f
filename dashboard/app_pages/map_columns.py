"""How a file with other columns, other units or efforts side by side is to be read."""

from __future__ import annotations

import hashlib

import streamlit as st

from dashboard import day_words, numbers, page_parts, tables
from dashboard.access import require
from dashboard.file_choice import choose_rows
from dashboard.mapping_form import mapping_form
from dashboard.reads import ask, own_store
from db.errors import StoreError
from db.imports import check_rows
from db.kept_mappings import get_mapping, list_mappings, mapped_by, save_mapping
from db.measures import list_measures
from db.text_tables import read_text_table

NEW = "A new mapping"
SHOWN_ROWS = 10

person = require("director", "coach")
st.title("Map columns")
store = own_store()
if said := st.session_state.pop("mapping_said", None):
    st.success(said)
    st.page_link(page_parts.IMPORT_PAGE, label="Import a file by it")
st.write(
    "For files with other column names, other units, or the efforts of a session side by side."
    " Say once where each column comes from, and save it under a name: the import offers it."
)
saved = ask(list_mappings)
if saved:
    page_parts.quiet(f"Saved: {numbers.listed(saved)}.")
chosen = choose_rows("mapping")
if chosen is None:
    st.info("Choose a file of the kind to be read, or paste some of its rows.")
    st.stop()
try:
    table = read_text_table(chosen.content, chosen.name)
    columns = [str(column) for column in table.frame]
    start = st.selectbox("Start from", [NEW, *saved], key="mapping_start")
    page_parts.quiet("The first rows of the file:")
    st.dataframe(table.frame.head(3), hide_index=True, alt="The first rows of the file")
    begun = hashlib.sha256(repr((columns, start)).encode()).hexdigest()[:8]
    mapping = mapping_form(
        columns,
        ask(list_measures),
        None if start == NEW else get_mapping(store, start),
        f"mapping_{begun}",
    )
    seen = mapped_by(store, table, mapping)
    check = check_rows(store, seen, add_athletes=not person.squads)
    st.subheader("As it would be stored")
    st.write(day_words.import_preview(chosen.name, check))
    if not check.new.empty:
        st.dataframe(
            tables.to_store(check.new.head(SHOWN_ROWS)),
            hide_index=True,
            alt="The first rows as they would be stored",
        )
    if not check.set_aside.empty:
        page_parts.quiet("The first rows that would be set aside, with the line of the file:")
        st.dataframe(
            tables.set_aside(check.set_aside.head(SHOWN_ROWS)),
            hide_index=True,
            alt="Rows that would be set aside, with reasons",
        )
    name = st.text_input(
        "Name of the mapping", "" if start == NEW else start, key=f"mapping_name_{begun}"
    )
    if name.strip() in saved:
        page_parts.quiet("There is one of this name: it would be replaced.")
    if st.button("Save this mapping", type="primary", key="save_mapping"):
        save_mapping(store, name, mapping, person.person)
        st.session_state["mapping_said"] = f"Saved as {name.strip()}."
        st.rerun()
except StoreError as error:
    st.error(f"{error.title}. {error.message}")
