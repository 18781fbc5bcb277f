"""The rows of a file as columns of text, whatever its kind."""

from __future__ import annotations

import csv
import io
from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from db.errors import BadInput
from db.tables.limits import MOST_BROKEN_ROWS, check_size
from db.tables.shown_texts import some_of
from db.tables.written_numbers import NumberWriting

CHUNK_CELLS = 500_000
Rows = Iterator[tuple[int, list[str]]]
"""The line and the cells of each row that is not empty."""
Arrange = Callable[[Rows], Rows]
"""Picks the rows of a table, the header first, from a file with other rows around it."""


@dataclass(frozen=True)
class BrokenRow:
    """A row that does not fit under the header: why, and its text."""

    reason: str
    row_text: str


@dataclass(frozen=True)
class SheetsOf:
    """The sheets of a workbook.

    Attributes
    ----------
    read : str
        The name of the one that is read.
    shown, hidden : tuple of str
        The names of all sheets with cells, in their order.
    """

    read: str
    shown: tuple[str, ...]
    hidden: tuple[str, ...]


@dataclass(frozen=True)
class FileRows:
    """The rows of a file that are not empty.

    Attributes
    ----------
    header : list of str
        The names of the columns, in lower case; empty cells at the end are left out.
    lines : array of int
        The line of each row below the header (for Parquet the number of the row).
    columns : list of ChunkedArray
        The cells as text; an empty cell is an empty text.
    writing : NumberWriting
        How its numbers may be written.
    broken : dict of int to BrokenRow
        Lines that do not fit under the header.
    sheets : SheetsOf or None
        The sheets, if the file is a workbook.
    """

    header: list[str]
    lines: npt.NDArray[np.int64]
    columns: list[pa.ChunkedArray]
    writing: NumberWriting
    broken: dict[int, BrokenRow]
    sheets: SheetsOf | None = None


def from_rows(
    rows: Iterable[tuple[int, list[str]]],
    name: str,
    writing: NumberWriting,
    full: bool = False,
    sheets: SheetsOf | None = None,
) -> FileRows:
    """Put rows into columns, in chunks to save memory.

    Parameters
    ----------
    rows : iterable of int and list of str
        The line and the cells of each row that is not empty, the header first.
    name : str
        Name of the file.
    writing : NumberWriting
        How its numbers may be written.
    full : bool
        Whether every row should have all its cells, so a short one is broken.
    sheets : SheetsOf or None
        The sheets, if the file is a workbook.

    Raises
    ------
    BadInput
        If the header is not valid, too many rows do not fit under it, or there are more cells
        than an import takes.
    """
    rows = iter(rows)
    _, first = next(rows, (0, []))
    header = header_of(first, name)
    # Not a list: the garbage collector would go through its million numbers again and again.
    lines = array("q")
    chunks: list[list[pa.Array]] = [[] for _ in header]
    broken: dict[int, BrokenRow] = {}
    for share in _shares(rows, len(header), name):
        lines.extend(line for line, _ in share)
        fitted = [_fitted(line, row, len(header), full, broken) for line, row in share]
        _check_broken(broken, name)
        for chunk, cells in zip(chunks, zip(*fitted, strict=True), strict=True):
            chunk.append(pa.array(cells, pa.large_string()))
    columns = [pa.chunked_array(chunk, pa.large_string()) for chunk in chunks]
    return FileRows(header, np.array(lines), columns, writing, broken, sheets)


def from_columns(
    names: Sequence[str],
    columns: Sequence[pa.ChunkedArray],
    name: str,
    writing: NumberWriting,
    first_line: int,
) -> FileRows | None:
    """Take columns as they are, without empty rows; None if a filled cell has no header."""
    header = header_of(names, name)
    if any(pc.any(_filled(column)).as_py() for column in columns[len(header) :]):
        return None
    columns = list(columns[: len(header)])
    lines = np.arange(first_line, first_line + len(columns[0]) if columns else first_line)
    # Only rows with an empty first cell can be blank, so check just those.
    suspects = pc.invert(_filled(columns[0])) if columns else None
    if suspects is not None and pc.any(suspects).as_py():
        kept = _filled(columns[0])
        for column in columns[1:]:
            kept = pc.or_(kept, _filled(column))
        columns = [column.filter(kept) for column in columns]
        lines = lines[kept.to_numpy()]
    return FileRows(header, lines.astype(np.int64), columns, writing, {})


def header_of(cells: Sequence[str], name: str) -> list[str]:
    """Return the names of columns in lower case, without empty cells at the end.

    Raises
    ------
    BadInput
        If there are more columns than an import takes, or a name is missing or used twice.
    """
    check_size(name, columns=len(cells))
    header = _trimmed([cell.strip().lower() for cell in cells])
    doubled = sorted({title for title in header if title and header.count(title) > 1})
    if doubled:
        raise BadInput(
            f"The file {name} has the column {some_of(doubled)} more than once. Keep one of them."
        )
    if "" in header:
        raise BadInput(
            f"Column {header.index('') + 1} of the file {name} has no name in the header. Name "
            "it, or take it out."
        )
    return header


def row_text(cells: Iterable[str]) -> str:
    """Write a row as it would stand in a CSV file."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue().removesuffix("\n")


def _shares(
    rows: Iterator[tuple[int, list[str]]], width: int, name: str
) -> Iterator[list[tuple[int, list[str]]]]:
    """Group rows into chunks with about the same number of cells, and check their total."""
    share: list[tuple[int, list[str]]] = []
    cells = counted = 0
    for line, row in rows:
        share.append((line, row))
        cells += max(len(row), width)
        if cells >= CHUNK_CELLS:
            yield share
            counted += cells
            check_size(name, cells=counted, so_far=True)
            share, cells = [], 0
    if share:
        yield share


def _check_broken(broken: Mapping[int, BrokenRow], name: str) -> None:
    """Refuse a file if too many of its rows do not fit under its header."""
    if len(broken) > MOST_BROKEN_ROWS:
        line, first = next(iter(broken.items()))
        raise BadInput(
            f"The file {name} has more than {MOST_BROKEN_ROWS:,} rows that do not fit under its "
            f"header; on line {line}, the first of them, {first.reason}. Check the header and "
            "what stands between the cells. Nothing was read."
        )


def _fitted(
    line: int, row: list[str], width: int, full: bool, broken: dict[int, BrokenRow]
) -> list[str]:
    """Bring a row to the width of the header, and note it if it does not fit."""
    if len(row) == width:
        return row
    short = len(row) < width
    if full if short else len(_trimmed(row)) > width:
        reason = f"the row has {len(row)} cells and the header {width}"
        broken[line] = BrokenRow(reason, row_text(row))
    return (row + [""] * width)[:width]


def _filled(column: pa.ChunkedArray) -> pa.ChunkedArray:
    return pc.not_equal(pc.utf8_trim_whitespace(column), "")


def _trimmed(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept
