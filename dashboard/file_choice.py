"""Where rows come from: a file that is chosen, or cells pasted from a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import monotonic

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import numbers, page_parts
from db.errors import StoreError
from db.file_kinds import sheets_of
from db.import_limits import Progress

WAYS = ("A file", "Pasted cells")
SHOW_AFTER_SECONDS = 0.5


@dataclass(frozen=True)
class ChosenRows:
    """What was chosen: its bytes, and a name whose ending says the kind."""

    content: bytes
    name: str


def choose_rows(key: str) -> ChosenRows | None:
    """Let the reader choose a file or paste cells; None while there is nothing yet."""
    key = f"{key}_{_round(key)}"
    way = st.segmented_control(
        "Rows from", list(WAYS), default=WAYS[0], required=True, key=f"{key}_way"
    )
    if way == WAYS[0]:
        # Any file may be chosen: of one that cannot be read, the sentence says what to do.
        upload = st.file_uploader("CSV, Excel or Parquet", key=f"{key}_file")
        return ChosenRows(upload.getvalue(), upload.name) if upload else None
    text = st.text_area(
        "Cells copied from a spreadsheet, the row of column names first",
        key=f"{key}_pasted",
        height=200,
    )
    return ChosenRows(text.encode(), "pasted cells.tsv") if text.strip() else None


def choose_sheet(chosen: ChosenRows, key: str) -> str:
    """Let the reader choose a sheet of a workbook; empty for a file of another kind.

    Raises
    ------
    BadInput
        If the workbook cannot be read, or has no sheet that is not hidden.
    """
    sheets = sheets_of(chosen.content, chosen.name)
    if sheets is None:
        return ""
    sheet = sheets.read
    if len(sheets.shown) > 1:
        sheet = st.selectbox("Sheet", sheets.shown, key=f"{key}_{_round(key)}_sheet")
    if sheets.hidden:
        page_parts.quiet(
            f"Hidden in the workbook, and not offered: {numbers.listed(sheets.hidden)}."
        )
    return sheet


def drop_rows(key: str) -> None:
    """Let nothing be chosen any more."""
    st.session_state[f"{key}_round"] = _round(key) + 1


@contextmanager
def reading(key: str) -> Iterator[Progress]:
    """Yield what shows how far the reading is, with a button to end it, once it takes a while.

    Whoever presses the button or goes to another page ends the reading: each showing of how far it
    is begins with a look at what was asked of the page meanwhile.
    """
    place, began = st.empty(), monotonic()
    shown: list[DeltaGenerator] = []

    def move(share: float, text: str) -> None:
        if not shown and monotonic() - began >= SHOW_AFTER_SECONDS:
            with place.container():
                shown.append(st.empty())
                st.button("Cancel", key=f"{key}_cancel", on_click=drop_rows, args=(key,))
        for bar in shown:
            bar.progress(min(share, 1.0), text)

    try:
        yield move
    except StoreError:
        place.empty()
        raise
    place.empty()


def _round(key: str) -> int:
    return int(st.session_state.get(f"{key}_round", 0))
