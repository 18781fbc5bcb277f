from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import pandas as pd

from db.errors import BadInput
from db.file_rows import READERS, FileRows

KINDS_OF_FILE = "CSV (.csv), Parquet (.parquet) or Excel (.xlsx)"


@dataclass(frozen=True)
class BrokenRow:
    """A row that does not fit under the header: why, and its text."""

    reason: str
    row_text: str


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
    decimal_comma : bool
        Whether numbers may be written with a comma.
    broken : mapping of int to BrokenRow
        Lines that do not fit under the header.
    """

    frame: pd.DataFrame
    name: str
    sha256: str
    decimal_comma: bool = False
    broken: Mapping[int, BrokenRow] = field(default_factory=lambda: MappingProxyType({}))

    def row_texts(self, lines: Iterable[int]) -> list[str]:
        """Give the rows of some lines as text, cells between commas."""
        wanted = self.frame.loc[list(lines)]
        return [
            self.broken[line].row_text if line in self.broken else _row_text(cells)
            for line, *cells in wanted.itertuples(name=None)
        ]


def read_text_table(source: Path | bytes, name: str = "") -> RawTable:
    """Read a CSV, Parquet or Excel file as text, whatever its columns.

    Parameters
    ----------
    source : Path or bytes
        The file, or what is in it.
    name : str
        Its name, whose ending says the kind; needed with bytes.

    Raises
    ------
    BadInput
        If it cannot be read, has no rows, or has a column twice or without a name.
    """
    content, name = _content(source, name)
    if not content.strip():
        raise BadInput(f"The file {name} is empty. Save the efforts in it and try again.")
    sha256 = hashlib.sha256(content).hexdigest()
    reader = READERS.get(Path(name).suffix.lower())
    if reader is None:
        raise BadInput(
            f"The file {name} is of a kind that cannot be read. Save it as {KINDS_OF_FILE}."
        )
    return _assembled(reader(content, name), name, sha256)


def _content(source: Path | bytes, name: str) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        return source, name
    try:
        return source.read_bytes(), name or source.name
    except OSError as error:
        raise BadInput(
            f"The file {source} cannot be read: {error.strerror}. Check the path."
        ) from error


def _assembled(rows: FileRows, name: str, sha256: str) -> RawTable:
    if len(rows.cells) < 2:
        raise BadInput(f"The file {name} has no rows below its header. Nothing was read.")
    header = _trimmed([cell.strip().lower() for cell in rows.cells[0]])
    _check_header(header, name)
    fitted, broken = _fitted(rows, len(header))
    columns = zip(header, zip(*fitted, strict=True), strict=True)
    frame = pd.DataFrame({title: pd.Series(cells, dtype="str") for title, cells in columns})
    frame.index = pd.Index(rows.lines[1:], name="line")
    return RawTable(frame, name, sha256, rows.decimal_comma, MappingProxyType(broken))


def _fitted(rows: FileRows, width: int) -> tuple[list[list[str]], dict[int, BrokenRow]]:
    """Bring the rows below the header to its width, and note those that do not fit."""
    fitted, broken = rows.cells[1:], {}
    for place, row in enumerate(fitted):
        if len(row) == width:
            continue
        if len(_trimmed(row)) > width or (rows.full and len(row) < width):
            broken[rows.lines[place + 1]] = BrokenRow(
                f"the row has {len(row)} cells and the header {width}", _row_text(row)
            )
        fitted[place] = (row + [""] * width)[:width]
    return fitted, broken


def _check_header(header: Sequence[str], name: str) -> None:
    doubled = sorted({title for title in header if title and header.count(title) > 1})
    if doubled:
        raise BadInput(
            f"The file {name} has the column {', '.join(doubled)} more than once. Keep one of them."
        )
    if "" in header:
        raise BadInput(
            f"Column {header.index('') + 1} of the file {name} has no name in the header. Name "
            "it, or take it out."
        )


def _trimmed(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def _row_text(cells: Iterable[str]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue().removesuffix("\n")
