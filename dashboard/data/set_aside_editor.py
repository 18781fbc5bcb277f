"""Rows set aside, to correct in place and save."""

from __future__ import annotations

import hashlib

import pandas as pd
import streamlit as st

from dashboard.core import numbers
from dashboard.screen import elements
from db.errors import StoreError
from db.file.store import Store
from db.imports.corrections import KEY, store_corrected
from db.imports.effort_files import COLUMNS, NEEDED
from db.people.accounts import Person

SHOWN_ROWS = 500
TAKE = "store"
WHERE = {"file": "file", "line": "line", "reason": "why"}


def edit_set_aside(store: Store, person: Person, rows: pd.DataFrame) -> str:
    """Show `db.imports.corrections.correctable_rows` to edit; return what saving them did."""
    shown = rows.head(SHOWN_ROWS).reset_index(drop=True)
    cells = [
        name
        for name in COLUMNS
        if name in (*NEEDED, "volume_before")
        or (shown["at_fault"] == name).any()
        or (shown[name] != "").any()
    ]
    st.write(
        f"{numbers.counted(len(rows), 'row')}. Correct the cells below and save the rows, or"
        " correct the file and import it again: rows saved already are passed over."
    )
    if len(rows) > len(shown):
        elements.quiet(f"The first {len(shown)} are shown.")
    edited = st.data_editor(
        shown.assign(**{TAKE: False})[[TAKE, *WHERE, *cells]],
        hide_index=True,
        disabled=list(WHERE),
        column_config={
            TAKE: st.column_config.CheckboxColumn(
                TAKE, help="Tick a row to try it unchanged. Edited rows are always tried."
            ),
            **WHERE,
        },
        key=f"set_aside_{_name(shown)}",
    )
    add_athletes = not person.limited and st.checkbox(
        "Add athletes of these rows that are not known yet", key="corrected_add"
    )
    if not st.button("Save the corrected rows", key="store_corrected"):
        return ""
    edited[cells] = edited[cells].fillna("")
    taken = edited[TAKE] | (edited[cells] != shown[cells]).any(axis="columns")
    corrected = shown[taken].assign(**{name: edited.loc[taken, name].str.strip() for name in cells})
    try:
        reports = store_corrected(store, corrected, person.person, add_athletes)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return ""
    stored = sum(report.stored for report in reports)
    known = sum(report.known for report in reports)
    aside = sum(report.set_aside for report in reports)
    return (
        f"{numbers.counted(len(corrected), 'corrected row')} read. {numbers.whole(stored)} saved,"
        f" {numbers.whole(known)} known already, {numbers.whole(aside)} set aside again."
    )


def _name(rows: pd.DataFrame) -> str:
    """Give a name that changes as soon as other rows are shown, as edits go by position."""
    return hashlib.sha256(rows[KEY].to_csv(index=False).encode()).hexdigest()[:12]
