"""What saving a file would do, shown before it is done."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.data import words
from dashboard.screen.elements import SHOWN_ROWS, quiet
from db.imports.row_checks import ImportCheck


def show_import(name: str, check: ImportCheck) -> None:
    """Show what saving a file would do: counts, the first rows set aside, the first to save."""
    show_set_aside(name, check)
    show_to_store(check)


def show_set_aside(name: str, check: ImportCheck) -> None:
    """Show the counts of rows, and the first that would be set aside."""
    st.write(words.import_preview(name, check))
    what = "set aside, with the line of the file and the reason"
    _show_first(set_aside(check.set_aside), what)


def show_to_store(check: ImportCheck) -> None:
    """Show the first rows that would be saved."""
    _show_first(to_store(check.new), "stored")


def _show_first(rows: pd.DataFrame, what: str) -> None:
    if not rows.empty:
        quiet(f"The first rows that would be {what}:")
        st.dataframe(
            rows.head(SHOWN_ROWS), hide_index=True, alt=f"The first rows that would be {what}"
        )


def set_aside(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows set aside: where they are, why, and what they contain."""
    columns = {"file": "file", "line": "line", "reason": "why", "column": "column"}
    as_written = ("athlete", "started_at", "measure", "effort", "value")
    columns |= {name: name.replace("_at", "") for name in as_written}
    named = rows[[name for name in columns if name in rows]].rename(columns=columns)
    return named.reset_index(drop=True)


def past_imports(rows: pd.DataFrame) -> pd.DataFrame:
    """Return imports from `db.imports.undo.imports_with_undo`, one line each."""
    columns = {
        "batch_id": "import",
        "file": "file",
        "imported_at": "imported",
        "person": "by",
        "rows_read": "rows read",
        "stored": "stored",
        "known": "known",
        "set_aside": "set aside",
        "taken_back_at": "taken back",
        "taken_back_by": "taken back by",
        "taken_back_because": "why",
    }
    return rows[list(columns)].rename(columns=columns)


def to_store(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows of `db.imports.storing.check_rows` that would be saved."""
    columns = ["athlete", "started_at", "measure", "kind", "effort", "value", "volume"]
    return rows[columns].rename(columns={"started_at": "started", "volume": "volume before"})
