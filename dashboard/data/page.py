"""Import of files: what would be stored is shown first, then stored as a whole."""

from __future__ import annotations

import streamlit as st

from dashboard.core import columns, numbers, terms
from dashboard.data import preview, words
from dashboard.data.set_aside_editor import edit_set_aside
from dashboard.rules import status_words
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.file_choice import (
    ask_of,
    choose_rows,
    choose_sheet,
    drop_rows,
    reading,
    stated_of,
)
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.imports.corrections import correctable_rows
from db.imports.kept_mappings import list_mappings, read_efforts
from db.imports.past_imports import import_batches
from db.imports.storing import check_rows, import_efforts
from db.imports.unusable_files import UnusableFile
from db.roster.athletes import read_athletes_file, save_athletes
from db.roster.statuses import painful_sessions

FILES = {"efforts": "Efforts", "athletes": "Athletes"}
KEY = "import"
OWN_COLUMNS = "The columns above"
SHOWN_ROWS = 200

person = require("director", "coach")
st.title("Import")
store = own_store()
if said := st.session_state.pop("import_said", None):
    st.success(said)
if warned := st.session_state.pop("import_warned", None):
    st.warning(warned)
kind = st.segmented_control(
    "What is in the file",
    # Whoever sees some athletes only adds none: a code out of sight would show itself.
    ["efforts"] if person.limited else list(FILES),
    default="efforts",
    required=True,
    format_func=lambda kind: FILES[kind],
    key="import_kind",
)
st.write(words.FILE_COLUMNS[kind])
upload = choose_rows(KEY)


def finish(said: str) -> None:
    """Show what an import did over an empty uploader."""
    st.session_state["import_said"] = said
    drop_rows(KEY)
    st.rerun()


try:
    if upload and kind == "athletes":
        sheet = choose_sheet(upload, KEY)
        with reading(KEY) as progress:
            people = read_athletes_file(upload.content, upload.name, sheet, progress)
        st.write(f"{numbers.counted(len(people), 'athlete')} in {upload.name}.")
        st.dataframe(people.head(SHOWN_ROWS), hide_index=True, alt="Athletes in the file")
        if st.button("Store these athletes", type="primary", key="store_athletes"):
            finish(words.athletes_stored(save_athletes(store, people, person.person)))
    elif upload:
        add_athletes = not person.limited and st.checkbox(
            "Add athletes that are not known yet, with their code as name", key="import_add"
        )
        mapping = st.selectbox("Read by", [OWN_COLUMNS, *ask(list_mappings)], key="import_mapping")
        sheet, stated = choose_sheet(upload, KEY), stated_of(upload)
        with reading(KEY) as progress:
            try:
                table = read_efforts(
                    store,
                    upload.content,
                    upload.name,
                    mapping=None if mapping == OWN_COLUMNS else mapping,
                    sheet=sheet,
                    clock=stated.clock,
                    decimal_mark=stated.decimal_mark,
                    progress=progress,
                )
                check = check_rows(store, table, add_athletes, progress)
            except UnusableFile as refusal:
                ask_of(upload, refusal.asked)
                raise
        ask_of(upload, check.asked)
        preview.show_import(table.name, check)
        if st.button("Store this file", type="primary", key="store_efforts"):
            report = import_efforts(
                store,
                table,
                person.person,
                add_athletes,
                elements.progress_bar(),
            )
            st.session_state["import_warned"] = status_words.painful_sentence(
                painful_sessions(store, batch_id=report.batch_id)
            )
            finish(words.import_done(report))
except StoreError as error:
    st.error(f"{error.title}. {error.message}")

batches = ask(import_batches)
st.header("Earlier imports")
if batches.empty:
    st.write("None yet. The first file that you import is listed here, with every row set aside.")
    st.stop()
st.dataframe(
    batches.drop(columns="batch_id"),
    hide_index=True,
    column_config={
        "imported_at": columns.moments("imported", timezone=st.context.timezone),
        "rows_read": "rows read",
        "set_aside": "set aside",
    },
    alt="Earlier imports with their counts of rows",
)
aside = ask(correctable_rows)
st.header("Rows set aside", help=terms.meaning("set aside"))
if aside.empty:
    st.write("No row of the files imported so far is set aside.")
else:
    files = sorted(aside["file"].unique())
    chosen = st.multiselect("File", files, key="import_files", placeholder="All files")
    shown = aside[aside["file"].isin(chosen or files)]
    if corrected := edit_set_aside(store, person, shown):
        finish(corrected)
