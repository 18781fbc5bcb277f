"""Rows of a frame that each have a code: athletes, exercises."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from db.errors import BadInput
from db.tables.cells import Parser
from db.tables.text_tables import RawTable

SHOWN_FAULTS = 5
Row = dict[str, object]


def whole_rows(table: RawTable) -> pd.DataFrame:
    """Return the rows of a table as text, indexed by line.

    Raises
    ------
    BadInput
        If a row does not fit under the header.
    """
    if table.broken:
        line, broken = next(iter(table.broken.items()))
        raise BadInput(
            f"On line {line} of the file {table.name} {broken.reason}. Complete the row and try "
            "again; nothing was stored."
        )
    return table.frame


def keyed_rows(frame: pd.DataFrame, parsers: Mapping[str, Parser], what: str) -> list[Row]:
    """Parse a frame of texts with one row per code; an empty cell or absent column is None.

    Parameters
    ----------
    frame : DataFrame
        Its index is what a person calls the row, such as the line of a file.
    parsers : mapping of str to Parser
        By column; the first is the code, which every row needs.
    what : str
        What the rows are, such as athlete.

    Raises
    ------
    BadInput
        If the column of the code is missing, a cell is not allowed, or a code comes twice.
    """
    key = next(iter(parsers))
    if key not in frame:
        raise BadInput(
            f"The column {key} is missing. The columns may be {', '.join(parsers)}; {key} is "
            "needed."
        )
    faults: list[str] = []
    rows: list[Row] = []
    for line, cells in zip(frame.index, frame.to_dict("records"), strict=True):
        row: Row = {}
        for column, parser in parsers.items():
            text = _text(cells.get(column))
            try:
                row[column] = parser(text) if text or column == key else None
            except ValueError as error:
                faults.append(f"row {line}, {column}: {error}")
        rows.append(row)
    faults = faults or _doubled((row[key] for row in rows), what)
    if faults:
        more = f" and {len(faults) - SHOWN_FAULTS} more" if len(faults) > SHOWN_FAULTS else ""
        raise BadInput(
            f"The {what}s cannot be saved: {'; '.join(faults[:SHOWN_FAULTS])}{more}. Nothing was "
            "stored."
        )
    return rows


def _text(cell: object) -> str:
    return (
        "" if cell is None or cell is pd.NA or cell is pd.NaT or cell != cell else str(cell).strip()
    )


def _doubled(codes: Iterable[object], what: str) -> list[str]:
    counts = pd.Series(list(codes), dtype=object).value_counts()
    return [f"the {what} '{code}' stands there {n} times" for code, n in counts.items() if n > 1]
