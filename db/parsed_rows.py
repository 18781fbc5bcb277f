from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.cells import NEEDED, NUMBERS, PARSERS, Parser
from db.effort_files import check_columns
from db.text_tables import RawTable

Mask = npt.NDArray[np.bool_]
Objects = npt.NDArray[np.object_]
Cells = Objects | pd.Series
Progress = Callable[[float, str], None]


class Faults:
    """The first fault of each row: the column and the reason."""

    def __init__(self, rows: int) -> None:
        self.column: Objects = np.full(rows, None, dtype=object)
        self.reason: Objects = np.full(rows, None, dtype=object)

    def copy(self) -> Faults:
        """Give a copy that can be marked further."""
        copied = Faults(0)
        copied.column, copied.reason = self.column.copy(), self.reason.copy()
        return copied

    @property
    def clear(self) -> Mask:
        """Rows without a fault so far."""
        return _missing(self.column)

    def mark(self, faulty: Mask | pd.Series, column: str, reason: str, **cells: Cells) -> None:
        """Note a fault of some rows, where they have none yet.

        Parameters
        ----------
        faulty : array of bool, a row each
            The rows.
        column : str
            The column at fault.
        reason : str
            The reason, with the names of cells in braces.
        **cells : array or Series, a row each
            What stands in for the names.
        """
        places = np.flatnonzero(np.asarray(faulty, dtype=bool) & self.clear)
        self.column[places] = column
        shown = [[_shown(cell) for cell in np.asarray(cells[name])[places]] for name in cells]
        self.reason[places] = (
            [
                reason.format(**dict(zip(cells, row, strict=True)))
                for row in zip(*shown, strict=True)
            ]
            if cells
            else reason
        )


@dataclass(frozen=True)
class ParsedRows:
    """The rows of an efforts file, each cell read for itself.

    Attributes
    ----------
    table : RawTable
        What was read.
    frame : DataFrame
        `line`, every column of the efforts format, and `utc_offset_minutes`; a cell that
        is empty, absent or at fault is missing. Positions are those of the table's rows.
    faults : Faults
        What is wrong with single cells.
    ignored_columns : tuple of str
        Columns of the file that the format does not have.
    """

    table: RawTable
    frame: pd.DataFrame
    faults: Faults
    ignored_columns: tuple[str, ...]


def parse_rows(table: RawTable, progress: Progress | None = None) -> ParsedRows:
    """Read every cell of a table, and note what cannot be read.

    Parameters
    ----------
    table : RawTable
        An efforts file.
    progress : callable, optional
        Told the share done, from 0 to 1, and what is being done.

    Raises
    ------
    BadInput
        If the table lacks a needed column.
    """
    check_columns(table)
    rows = len(table.frame)
    faults = Faults(rows)
    for place, line in enumerate(table.frame.index):
        if line in table.broken:
            faults.column[place], faults.reason[place] = "row", table.broken[line].reason
    parsed: dict[str, Any] = {"line": table.frame.index.to_numpy()}
    for done, (column, parser) in enumerate(PARSERS.items()):
        if progress:
            progress(done / len(PARSERS), f"Reading {column}")
        values = _parsed_column(table, column, parser, faults)
        if column == "started_at":
            parsed |= _moments(values)
        else:
            parsed[column] = values.astype(float) if column in NUMBERS else values
    ignored = tuple(str(column) for column in table.frame if column not in PARSERS)
    return ParsedRows(table, pd.DataFrame(parsed), faults, ignored)


def _parsed_column(table: RawTable, column: str, parser: Parser, faults: Faults) -> Objects:
    """Parse each different text of a column once."""
    if column not in table.frame:
        return np.full(len(table.frame), None, dtype=object)
    codes, texts = pd.factorize(table.frame[column])
    values: Objects = np.full(len(texts), None, dtype=object)
    reasons: Objects = np.full(len(texts), None, dtype=object)
    for place, text in enumerate(texts.tolist()):
        values[place], reasons[place] = _parsed_text(text.strip(), column, parser, table)
    faults.mark(~_missing(reasons)[codes], column, "{why}", why=reasons[codes])
    return values[codes]


def _parsed_text(
    text: str, column: str, parser: Parser, table: RawTable
) -> tuple[object, str | None]:
    if not text:
        return None, "the cell is empty and is needed" if column in NEEDED else None
    if table.decimal_comma and column in NUMBERS:
        text = text.replace(",", ".")
    try:
        return parser(text), None
    except ValueError as error:
        return None, str(error)


def _moments(values: Objects) -> dict[str, Any]:
    walls = [None if moment is None else moment[0] for moment in values]
    offsets = [None if moment is None else moment[1] for moment in values]
    return {
        "started_at": pd.Series(walls, dtype="datetime64[us]"),
        "utc_offset_minutes": np.array(offsets, dtype=float),
    }


def _missing(values: Objects) -> Mask:
    return np.asarray(pd.isna(values), dtype=bool)


def _shown(cell: object) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return "nothing" if np.isnan(cell) else f"{cell:.10g}"
    return "nothing" if cell is None else str(cell)
