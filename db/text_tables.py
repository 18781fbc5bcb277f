from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile

import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet
from openpyxl.utils.exceptions import InvalidFileException

from db.errors import BadInput

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
    ending = Path(name).suffix.lower()
    if ending == ".csv":
        return _read_csv(content, name, sha256)
    if ending == ".parquet":
        return _read_parquet(content, name, sha256)
    if ending in (".xlsx", ".xlsm"):
        return _read_excel(content, name, sha256)
    raise BadInput(f"The file {name} is of a kind that cannot be read. Save it as {KINDS_OF_FILE}.")


def _content(source: Path | bytes, name: str) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        return source, name
    try:
        return source.read_bytes(), name or source.name
    except OSError as error:
        raise BadInput(
            f"The file {source} cannot be read: {error.strerror}. Check the path."
        ) from error


def _read_csv(content: bytes, name: str, sha256: str) -> RawTable:
    text = _decoded(content, name)
    header = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = ";" if header.count(";") > header.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines, rows, last_line = [], [], 0
    try:
        for row in reader:
            if any(map(str.strip, row)):
                lines.append(last_line + 1)
                rows.append(row)
            last_line = reader.line_num
    except csv.Error as error:
        raise BadInput(
            f"The file {name} breaks off in the row that begins on line {last_line + 1}: {error}. "
            'Look for a " that is not closed there.'
        ) from error
    return _assembled(lines, rows, name, sha256, decimal_comma=delimiter == ";", full_rows=True)


def _decoded(content: bytes, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise BadInput(
            f"The file {name} is not in UTF-8: line {line} has a character of another encoding. "
            "Save it as 'CSV UTF-8' and try again."
        ) from error


def _read_excel(content: bytes, name: str, sha256: str) -> RawTable:
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        cells = [[_excel_text(cell) for cell in row] for row in book.worksheets[0].values]
    except (BadZipFile, InvalidFileException, ParseError, KeyError, ValueError, OSError) as error:
        raise BadInput(
            f"The file {name} cannot be read as Excel. Open it and save it anew as .xlsx."
        ) from error
    numbered = [(line, row) for line, row in enumerate(cells, start=1) if any(row)]
    return _assembled([line for line, _ in numbered], [row for _, row in numbered], name, sha256)


def _excel_text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime | date):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _read_parquet(content: bytes, name: str, sha256: str) -> RawTable:
    try:
        table = pyarrow.parquet.read_table(pa.BufferReader(content))
    except (pa.ArrowException, OSError) as error:
        raise BadInput(
            f"The file {name} cannot be read as Parquet. Write it again and try again."
        ) from error
    columns = [_arrow_texts(column) for column in table.columns]
    rows = [table.column_names, *map(list, zip(*columns, strict=True))]
    return _assembled(list(range(len(rows))), rows, name, sha256)


def _arrow_texts(column: pa.ChunkedArray) -> list[str]:
    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    if pa.types.is_timestamp(column.type):
        moments = column.to_pandas()
        return ["" if moment is pd.NaT else moment.isoformat() for moment in moments]
    try:
        texts = column.cast(pa.string()).to_pylist()
    except pa.ArrowException:
        texts = [None if value is None else str(value) for value in column.to_pylist()]
    return ["" if text is None or text == "nan" else text for text in texts]


def _assembled(
    lines: list[int],
    rows: list[list[str]],
    name: str,
    sha256: str,
    decimal_comma: bool = False,
    full_rows: bool = False,
) -> RawTable:
    if len(rows) < 2:
        raise BadInput(f"The file {name} has no rows below its header. Nothing was read.")
    header = _trimmed([cell.strip().lower() for cell in rows[0]])
    _check_header(header, name)
    width = len(header)
    broken = {}
    for number, row in enumerate(rows[1:], start=1):
        if len(row) != width:
            cells = _trimmed(row)
            if len(cells) > width or (full_rows and len(row) < width):
                broken[lines[number]] = BrokenRow(
                    f"the row has {len(row)} cells and the header {width}", _row_text(row)
                )
            rows[number] = (row + [""] * width)[:width]
    columns = zip(*rows[1:], strict=True)
    frame = pd.DataFrame(
        {
            title: pd.Series(column, dtype="str")
            for title, column in zip(header, columns, strict=True)
        }
    )
    frame.index = pd.Index(lines[1:], name="line")
    return RawTable(frame, name, sha256, decimal_comma, MappingProxyType(broken))


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
