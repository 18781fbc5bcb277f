from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

import pandas as pd
import pyarrow as pa

from db.errors import BadInput
from db.tables.file_kinds import check_kind, rows_of
from db.tables.file_rows import Arrange, BrokenRow, SheetsOf, row_text
from db.tables.limits import MOST_BYTES, Progress, check_size, untold
from db.tables.shown_texts import some_of
from db.tables.written_numbers import OURS, NumberWriting
from db.tables.written_starts import clock_of


@dataclass(frozen=True)
class RawTable:
    """A table as it was written.

    Attributes
    ----------
    frame : DataFrame
        Text columns; an empty cell is an empty text. The index is the line of the file
        (for Parquet the number of the row).
    name : str
        Name of the file.
    sha256 : str
        SHA-256 of its bytes, in hexadecimal.
    writing : NumberWriting
        How its numbers may be written.
    times_said : bool
        Whether every time of day in the table is meant, even if all are midnight.
    clock : str
        The time of day for rows that have only a date; empty if not stated.
    broken : mapping of int to BrokenRow
        Lines that do not fit under the header.
    origin : RawTable or None
        The table as the file has it, if this one was made from it. A line can then have
        several rows.
    sheets : SheetsOf or None
        The sheets of the file, if it is a workbook.
    """

    frame: pd.DataFrame
    name: str
    sha256: str
    writing: NumberWriting = OURS
    times_said: bool = True
    clock: str = ""
    broken: Mapping[int, BrokenRow] = field(default_factory=lambda: MappingProxyType({}))
    origin: RawTable | None = None
    sheets: SheetsOf | None = None

    def stated(self, clock: str = "", decimal_mark: str = "") -> RawTable:
        """Return the same table with what is stated about it; see `clock_of` and `with_mark`.

        Raises
        ------
        BadInput
            If the clock is not a time of day, or no mark has that name.
        """
        writing = self.writing.with_mark(decimal_mark)
        return replace(self, clock=clock_of(clock) or self.clock, writing=writing)

    def row_texts(self, lines: Iterable[int]) -> list[str]:
        """Return the rows of some lines as text, with commas between the cells."""
        if self.origin is not None:
            return self.origin.row_texts(lines)
        wanted = self.frame.loc[list(lines)]
        return [
            self.broken[line].row_text if line in self.broken else row_text(cells)
            for line, *cells in wanted.itertuples(name=None)
        ]


def read_text_table(
    source: Path | bytes,
    name: str = "",
    sheet: str = "",
    progress: Progress = untold,
    arrange: Arrange | None = None,
) -> RawTable:
    """Read a CSV, Parquet or Excel file as text, whatever its columns.

    Parameters
    ----------
    source : Path or bytes
        The file, or its content.
    name : str
        Name of the file, whose ending says its kind; needed with bytes.
    sheet : str
        The sheet of a workbook; by default the first that is not hidden.
    progress : callable
        Called with the share done, from 0 to 1, and what is being done. If it raises, the
        reading ends.
    arrange : callable, optional
        Finds the header and the rows in the file; by default the first row is the header.

    Raises
    ------
    BadInput
        If it cannot be read, is larger than an import takes, has no rows, or has a column
        twice or without a name.
    """
    content, name = _content(source, name)
    if not content.strip():
        raise BadInput(f"The file {name} is empty. Save the efforts in it and try again.")
    rows = rows_of(content, name, sheet, progress, arrange)
    sheets = rows.sheets
    if sheets is not None and len(sheets.shown) + len(sheets.hidden) > 1:
        name = f"{name}, sheet {sheets.read}"
    if not len(rows.lines):
        raise BadInput(
            f"The file {name} has no rows below its header. Nothing was read.{also_there(sheets)}"
        )
    frame = pa.table(rows.columns, names=rows.header).to_pandas()
    frame.index = pd.Index(rows.lines, name="line")
    # Give the memory of the reading back to the system, because judging the rows needs it too.
    pa.default_memory_pool().release_unused()
    return RawTable(
        frame,
        name,
        _sha256(content, sheets),
        rows.writing,
        times_said=False,
        broken=MappingProxyType(rows.broken),
        sheets=sheets,
    )


def also_there(sheets: SheetsOf | None) -> str:
    """Name a workbook's other sheets, for the end of a message about the one that was read."""
    others = [name for name in sheets.shown if name != sheets.read] if sheets else []
    return f" The workbook also has: {some_of(others)}." if others else ""


def _content(source: Path | bytes, name: str) -> tuple[bytes, str]:
    """Read a file, but no more of it than an import takes."""
    if isinstance(source, bytes):
        check_kind(name)
        check_size(name, file_bytes=len(source))
        return source, name
    name = name or source.name
    if source.is_dir():
        raise BadInput(f"{source} is a folder. Name the files in it.")
    check_kind(name)
    try:
        check_size(name, file_bytes=source.stat().st_size)
        with source.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise BadInput(
            f"The file {source} cannot be read: {error.strerror}. Check the path."
        ) from error
    check_size(name, file_bytes=len(content), so_far=True)
    return content, name


def _sha256(content: bytes, sheets: SheetsOf | None) -> str:
    """Return the hash that identifies a file; a sheet that is not the default has its own."""
    digest = hashlib.sha256(content)
    if sheets is not None and sheets.read != next(iter(sheets.shown), ""):
        digest.update(f" {sheets.read}".encode())
    return digest.hexdigest()
