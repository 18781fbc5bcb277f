"""Import of files: the page first shows what would be saved, then saves it as a whole."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from dashboard.core import columns, numbers, terms
from dashboard.data import words
from dashboard.data.chosen_tables import KEY, Importing, Saving, show_table, tables_of
from dashboard.data.set_aside_editor import edit_set_aside
from dashboard.rules import status_words
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.file_choice import (
    choose_rows,
    choose_several,
    choose_sheet,
    drop_rows,
    reading,
)
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.imports.corrections import correctable_rows
from db.imports.kept_mappings import list_mappings
from db.imports.past_imports import import_batches
from db.roster.athletes import read_athletes_file, save_athletes

FILES = {"efforts": "Efforts", "athletes": "Athletes"}
AS_SHOWN = "What the file shows"
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
    # A person who sees only some athletes adds none: that would reveal a code out of their sight.
    ["efforts"] if person.limited else list(FILES),
    default="efforts",
    required=True,
    format_func=lambda kind: FILES[kind],
    key="import_kind",
)
st.write(words.FILE_COLUMNS[kind])


def finish(said: str) -> None:
    """Show what an import did, and empty the uploader."""
    st.session_state["import_said"] = said
    drop_rows(KEY)
    st.rerun()


def import_athletes() -> None:
    """Let a file of athletes be chosen and saved."""
    upload = choose_rows(KEY)
    if upload is None:
        return
    sheet = choose_sheet(upload, KEY)
    with reading(KEY) as progress:
        people = read_athletes_file(upload.content, upload.name, sheet, progress)
    st.write(f"{numbers.counted(len(people), 'athlete')} in {upload.name}.")
    st.dataframe(people.head(SHOWN_ROWS), hide_index=True, alt="Athletes in the file")
    if st.button("Save these athletes", type="primary", key="store_athletes"):
        saved = save_athletes(store, people, person.person)
        finish(words.athletes_stored(saved, people.columns))


def import_tables() -> None:
    """Let files of efforts be chosen, show how each table is read, and save all at one click."""
    uploads = choose_several(KEY)
    if not uploads:
        return
    mapping, saved = AS_SHOWN, ask(list_mappings)
    if saved:
        mapping = st.selectbox("Read by", [AS_SHOWN, *saved], key="import_mapping")
    importing = Importing(store, person, None if mapping == AS_SHOWN else mapping)
    tables = [table for upload in uploads for table in tables_of(upload)]
    savings = []
    for place, table in enumerate(tables):
        if len(tables) > 1:
            st.subheader(table.title)
            if st.checkbox("Leave this one out", key=f"import_out_{table.key}"):
                continue
        try:
            savings.append(show_table(table, importing, place))
        except StoreError as error:
            savings.append(None)
            st.error(f"{error.title}. {error.message}")
    ready = [saving for saving in savings if saving is not None]
    if len(ready) < len(savings):
        st.info(words.not_ready(len(savings) - len(ready), len(savings)))
    if not ready:
        return
    label = "Save this file" if len(savings) == 1 else f"Save these {len(savings)} tables"
    if st.button(label, type="primary", key="store_efforts", disabled=len(ready) < len(savings)):
        save(ready)


def save(savings: Sequence[Saving]) -> None:
    """Save tables one after the other, and say what came of each."""
    reports = [saving(elements.progress_bar()) for saving in savings]
    warned = [status_words.imported_warnings(store, report.batch_id) for report in reports]
    st.session_state["import_warned"] = "  \n".join(filter(None, warned))
    finish("  \n".join(map(words.import_done, reports)))


try:
    if kind == "athletes":
        import_athletes()
    else:
        import_tables()
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
