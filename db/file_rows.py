"""The rows of a file as lists of texts, whatever its kind."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile

import pandas as pd
import pyarrow as pa
import pyarrow.parquet

from db.errors import BadInput


@dataclass(frozen=True)
class FileRows:
    """Rows that are not empty, the header first.

    Attributes
    ----------
    lines : list of int
        The line of each row in the file (for Parquet the number of the row, the header 0).
    cells : list of list of str
        The cells of each row.
    decimal_comma : bool
        Whether numbers may be written with a comma.
    full : bool
        Whether every row is written out to the last cell, so that a short one broke off.
    """

    lines: list[int]
    cells: list[list[str]]
    decimal_comma: bool = False
    full: bool = False


def csv_rows(content: bytes, name: str) -> FileRows:
    """Read CSV in UTF-8 with commas or semicolons; a decimal comma goes with semicolons."""
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
    return FileRows(lines, rows, decimal_comma=delimiter == ";", full=True)


def excel_rows(content: bytes, name: str) -> FileRows:
    """Read the first sheet of an Excel file."""
    # Loaded only here: it takes as long to load as a page takes to show.
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        rows = [[_excel_text(cell) for cell in row] for row in book.worksheets[0].values]
    except (BadZipFile, InvalidFileException, ParseError, KeyError, ValueError, OSError) as error:
        raise BadInput(
            f"The file {name} cannot be read as Excel. Open it and save it anew as .xlsx."
        ) from error
    numbered = [(line, row) for line, row in enumerate(rows, start=1) if any(row)]
    return FileRows([line for line, _ in numbered], [row for _, row in numbered])


def parquet_rows(content: bytes, name: str) -> FileRows:
    """Read a Parquet file."""
    try:
        table = pyarrow.parquet.read_table(pa.BufferReader(content))
    except (pa.ArrowException, OSError) as error:
        raise BadInput(
            f"The file {name} cannot be read as Parquet. Write it again and try again."
        ) from error
    columns = [_arrow_texts(column) for column in table.columns]
    rows = [table.column_names, *map(list, zip(*columns, strict=True))]
    return FileRows(list(range(len(rows))), rows)


READERS: dict[str, Callable[[bytes, str], FileRows]] = {
    ".csv": csv_rows,
    ".parquet": parquet_rows,
    ".xlsx": excel_rows,
    ".xlsm": excel_rows,
}


def _decoded(content: bytes, name: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise BadInput(
            f"The file {name} is not in UTF-8: line {line} has a character of another encoding. "
            "Save it as 'CSV UTF-8' and try again."
        ) from error


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
