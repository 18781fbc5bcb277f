from __future__ import annotations

from pathlib import Path

from db.errors import BadInput
from db.tables.cells import NEEDED, PARSERS
from db.tables.shown_texts import some_of
from db.tables.text_tables import RawTable, also_there, read_text_table

__all__ = ["COLUMNS", "NEEDED", "RawTable", "read_table"]

COLUMNS = tuple(PARSERS)


def read_table(source: Path | bytes, name: str = "", sheet: str = "") -> RawTable:
    """Read an efforts file as text: CSV, Parquet or Excel, one row per effort.

    Parameters
    ----------
    source : Path or bytes
        The file, or its content.
    name : str
        Name of the file, whose ending says its kind; needed with bytes.
    sheet : str
        The sheet of a workbook; by default the first that is not hidden.

    Raises
    ------
    BadInput
        If the file cannot be read, is empty, or lacks a needed column.
    """
    table = read_text_table(source, name, sheet)
    check_columns(table)
    return table


def check_columns(table: RawTable) -> None:
    """Raise `BadInput` if a table lacks a column that an efforts file needs."""
    missing = [column for column in NEEDED if column not in table.frame]
    if missing:
        raise BadInput(
            f"The file {table.name} lacks the column {', '.join(missing)}. It has "
            f"{some_of(list(table.frame.columns))}; needed are {', '.join(NEEDED)}."
            f"{also_there(table.sheets)}"
        )
