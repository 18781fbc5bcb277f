"""Where rows come from: a file that is chosen, or cells pasted from a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from time import monotonic

import pandas as pd
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard.core import numbers
from dashboard.screen import elements
from db.errors import StoreError
from db.tables.file_kinds import sheets_of
from db.tables.limits import Progress

WAYS = ("A file", "Pasted cells")
SEVERAL_WAYS = ("Files", "Pasted cells", "A table to fill in")
TYPED_COLUMNS, TYPED_ROWS = "ABCDEFGH", 20
SHOW_AFTER_SECONDS = 0.5
CLOCK, DECIMAL_MARK = "clock", "decimal_mark"
"""What an import may ask, as `ImportCheck.asked` names it."""
MARKS = {"point": "Point: 1,200 is 1200", "comma": "Comma: 1,200 is 1.2"}


@dataclass(frozen=True)
class ChosenRows:
    """What was chosen: its bytes, and a name whose ending gives the kind of file."""

    content: bytes
    name: str


@dataclass(frozen=True)
class Stated:
    """What the reader says about a file: a time of day and a decimal mark, or empty texts."""

    clock: str
    decimal_mark: str


def choose_rows(key: str) -> ChosenRows | None:
    """Let the reader choose a file or paste cells; None while there is nothing yet."""
    key = f"{key}_{_round(key)}"
    if _way(WAYS, key) == WAYS[0]:
        # Any file may be chosen: if it cannot be read, the message says what to do.
        upload = st.file_uploader("CSV, Excel or Parquet", key=f"{key}_file")
        return ChosenRows(upload.getvalue(), upload.name) if upload else None
    return _pasted(key)


def choose_several(key: str) -> list[ChosenRows]:
    """Let the reader choose files, paste cells, or type them into a table."""
    key = f"{key}_{_round(key)}"
    way = _way(SEVERAL_WAYS, key)
    if way == SEVERAL_WAYS[0]:
        uploads = st.file_uploader(
            "CSV, text, Excel or Parquet, one or several",
            accept_multiple_files=True,
            key=f"{key}_file",
        )
        return [ChosenRows(upload.getvalue(), upload.name) for upload in uploads]
    chosen = _pasted(key) if way == SEVERAL_WAYS[1] else _typed(key)
    return [chosen] if chosen else []


def _way(ways: Sequence[str], key: str) -> str:
    chosen: str = st.segmented_control(
        "Rows from", list(ways), default=ways[0], required=True, key=f"{key}_way"
    )
    return chosen


def _pasted(key: str) -> ChosenRows | None:
    text = st.text_area(
        "Cells copied from a spreadsheet, the row of column names first",
        key=f"{key}_pasted",
        height=200,
    )
    return ChosenRows(text.encode(), "pasted cells.tsv") if text.strip() else None


def _typed(key: str) -> ChosenRows | None:
    """Let the reader fill in a table; a block copied from a spreadsheet can be pasted into it."""
    elements.quiet(
        "The names of the columns go in the first row, such as Athlete, Date, Jump (cm). A block"
        " copied from a spreadsheet can be pasted into a cell."
    )
    empty = pd.DataFrame("", index=range(TYPED_ROWS), columns=list(TYPED_COLUMNS))
    table = st.data_editor(empty, num_rows="dynamic", hide_index=True, key=f"{key}_typed")
    cells = [[str(cell or "").strip() for cell in row] for row in table.to_numpy().tolist()]
    rows = [row for row in cells if any(row)]
    if len(rows) < 2:
        return None
    text = io.StringIO()
    csv.writer(text, "excel-tab", lineterminator="\n").writerows(rows)
    return ChosenRows(text.getvalue().encode(), "typed cells.tsv")


def choose_sheet(chosen: ChosenRows, key: str) -> str:
    """Let the reader choose a sheet of a workbook; empty for a file of another kind.

    Raises
    ------
    BadInput
        If the workbook cannot be read, or all its sheets are hidden.
    """
    sheets = sheets_of(chosen.content, chosen.name)
    if sheets is None:
        return ""
    sheet = sheets.read
    if len(sheets.shown) > 1:
        sheet = st.selectbox("Sheet", sheets.shown, key=f"{key}_{_round(key)}_sheet")
    if sheets.hidden:
        elements.quiet(f"Hidden in the workbook, and not offered: {numbers.listed(sheets.hidden)}.")
    return sheet


def drop_rows(key: str) -> None:
    """Clear what was chosen."""
    st.session_state[f"{key}_round"] = _round(key) + 1


def stated_of(chosen: ChosenRows) -> Stated:
    """Return what the reader has said about a file so far."""
    clock = st.session_state.get(_key_of(chosen, CLOCK))
    mark = st.session_state.get(_key_of(chosen, DECIMAL_MARK))
    return Stated(clock.isoformat("minutes") if clock else "", mark or "")


def ask_of(chosen: ChosenRows, asked: Collection[str]) -> None:
    """Ask what a file does not show, and let the reader change earlier answers."""
    stated = stated_of(chosen)
    if CLOCK in asked or stated.clock:
        st.time_input(
            "Time of day of the rows that have only a date",
            None,
            key=_key_of(chosen, CLOCK),
            help="Rows without a time are set aside until you enter one. If every start is at"
            " midnight, we take it that the time is missing; enter 00:00 if it is right.",
        )
    if DECIMAL_MARK in asked or stated.decimal_mark:
        st.segmented_control(
            "Decimal mark",
            list(MARKS),
            format_func=lambda mark: MARKS[mark],
            key=_key_of(chosen, DECIMAL_MARK),
            help="Nothing in the file shows it. Numbers such as 1,200 are set aside until you do.",
        )


@contextmanager
def reading(key: str, part: str = "") -> Iterator[Progress]:
    """Yield a progress callback; if reading takes a while, it shows a bar and a button to end it.

    A page that reads in two parts gives the second one a name.

    Pressing the button or going to another page ends the reading, because Streamlit looks for new
    requests each time the progress is shown.
    """
    place, began = st.empty(), monotonic()
    shown: list[DeltaGenerator] = []

    def move(share: float, text: str) -> None:
        if not shown and monotonic() - began >= SHOW_AFTER_SECONDS:
            with place.container():
                shown.append(st.empty())
                st.button("Cancel", key=f"{key}_cancel{part}", on_click=drop_rows, args=(key,))
        for bar in shown:
            bar.progress(min(share, 1.0), text)

    try:
        yield move
    except StoreError:
        place.empty()
        raise
    place.empty()


def _key_of(chosen: ChosenRows, what: str) -> str:
    return f"{what}_of_{chosen.name}_{len(chosen.content)}"


def _round(key: str) -> int:
    return int(st.session_state.get(f"{key}_round", 0))
