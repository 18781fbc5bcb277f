"""Where rows come from: a file that is chosen, or cells pasted from a spreadsheet."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

ENDINGS = ["csv", "tsv", "txt", "parquet", "xlsx"]
WAYS = ("A file", "Pasted cells")


@dataclass(frozen=True)
class ChosenRows:
    """What was chosen: its bytes, and a name whose ending says the kind."""

    content: bytes
    name: str


def choose_rows(key: str) -> ChosenRows | None:
    """Let the reader choose a file or paste cells; None while there is nothing yet."""
    way = st.segmented_control(
        "Rows from", list(WAYS), default=WAYS[0], required=True, key=f"{key}_way"
    )
    if way == WAYS[0]:
        upload = st.file_uploader("CSV, Excel or Parquet", type=ENDINGS, key=f"{key}_file")
        return ChosenRows(upload.getvalue(), upload.name) if upload else None
    text = st.text_area(
        "Cells copied from a spreadsheet, the row of column names first",
        key=f"{key}_pasted",
        height=200,
    )
    return ChosenRows(text.encode(), "pasted cells.tsv") if text.strip() else None
