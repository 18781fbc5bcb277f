"""Reads the kinds of file there are, within bounds that no file of efforts comes near."""

from __future__ import annotations

import csv
import io
from codecs import BOM_UTF16_BE, BOM_UTF16_LE, BOM_UTF32_LE
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from zipfile import ZipFile

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet

from db.errors import BadInput
from db.file_rows import FileRows, from_columns, from_rows

# A small file can unpack to more than any memory holds; what it declares is asked before.
MOST_ROWS = 5_000_000
MOST_COLUMNS = 1_000
MOST_BYTES = 2**30


def csv_rows(content: bytes, name: str) -> FileRows:
    """Read text in UTF-8, or in UTF-16 with its mark, between commas, semicolons or tabs.

    Between semicolons and tabs numbers may have a decimal comma.
    """
    content = _as_utf8(content, name)
    head = content[: 2**16].removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace")
    header = next((line for line in head.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=header.count)
    return _plain_rows(content, delimiter) or _quoted_rows(content, name, delimiter)


def _as_utf8(content: bytes, name: str) -> bytes:
    """Turn UTF-16, which spreadsheets call Unicode text, into UTF-8; leave all else as it is."""
    if not content.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) or content.startswith(BOM_UTF32_LE):
        return content
    try:
        return content.decode("utf-16").encode()
    except UnicodeDecodeError as error:
        raise BadInput(
            f"The file {name} begins as UTF-16 and breaks off in byte {error.start + 1}. Save it "
            "as 'CSV UTF-8' and try again."
        ) from error


def excel_rows(content: bytes, name: str) -> FileRows:
    """Read the first sheet of an Excel file."""
    # Loaded only here: it takes as long to load as a page takes to show.
    import openpyxl

    with _read_by(name, "Excel", "Open it and save it anew as .xlsx."):
        with ZipFile(io.BytesIO(content)) as packed:
            _check_size(name, unpacked_bytes=sum(part.file_size for part in packed.infolist()))
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        rows = [[_excel_text(cell) for cell in row] for row in book.worksheets[0].values]
    return from_rows((line, row) for line, row in enumerate(rows, start=1) if any(row))


def parquet_rows(content: bytes, name: str) -> FileRows:
    """Read a Parquet file."""
    with _read_by(name, "Parquet", "Write it again and try again."):
        file = pyarrow.parquet.ParquetFile(
            pa.BufferReader(content), read_dictionary=_text_columns(content)
        )
        groups = [file.metadata.row_group(place) for place in range(file.metadata.num_row_groups)]
        _check_size(
            name,
            rows=max(file.metadata.num_rows, sum(group.num_rows for group in groups)),
            columns=file.metadata.num_columns,
            unpacked_bytes=sum(group.total_byte_size for group in groups),
        )
        table = file.read()
        _check_flat(table, name)
        _check_size(name, unpacked_bytes=sum(map(_text_bytes, table.columns)))
        columns = [_arrow_texts(column) for column in table.columns]
    read = from_columns(table.column_names, columns, first_line=1)
    if read is None:
        raise BadInput(f"The file {name} has a column without a name. Name it, or take it out.")
    return read


READERS: dict[str, Callable[[bytes, str], FileRows]] = {
    ".csv": csv_rows,
    ".tsv": csv_rows,
    ".txt": csv_rows,
    ".parquet": parquet_rows,
    ".xlsx": excel_rows,
    ".xlsm": excel_rows,
}


@contextmanager
def _read_by(name: str, kind: str, what_to_do: str) -> Iterator[None]:
    """Refuse what the reader of a kind of file stumbles over.

    A damaged file makes it raise anything: errors of the archive, of its compression, of XML,
    of a cell.
    """
    try:
        yield
    except BadInput:
        raise
    except Exception as error:
        raise BadInput(f"The file {name} cannot be read as {kind}. {what_to_do}") from error


def _plain_rows(content: bytes, delimiter: str) -> FileRows | None:
    """Read text in which every line is a row as wide as the header; None if it is not so."""
    start = 3 if content.startswith(b"\xef\xbb\xbf") else 0
    first = content[start : content.find(b"\n", start) + 1]
    if any(sign in content for sign in (b'"', b"\0")) or _has_bare_return(content):
        return None
    names = [f"f{place}" for place in range(first.count(delimiter.encode()) + 1)]
    try:
        table = pyarrow.csv.read_csv(
            pa.BufferReader(pa.py_buffer(content)[start:]),
            pyarrow.csv.ReadOptions(column_names=names, block_size=2**22),
            pyarrow.csv.ParseOptions(
                delimiter=delimiter, quote_char=False, ignore_empty_lines=False
            ),
            pyarrow.csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.large_string()), strings_can_be_null=False
            ),
        )
    except pa.ArrowException:
        return None
    header = [column[0].as_py() for column in table.columns]
    columns = [column.slice(1) for column in table.columns]
    if not any(cell.strip() for cell in header):
        return None
    return from_columns(header, columns, first_line=2, decimal_comma=delimiter != ",")


def _has_bare_return(content: bytes) -> bool:
    return b"\r" in content and content.count(b"\r") != content.count(b"\r\n")


def _quoted_rows(content: bytes, name: str, delimiter: str) -> FileRows:
    """Read any text between delimiters, row by row."""
    text = io.StringIO(_decoded(content, name), newline="")
    reader = csv.reader(text, delimiter=delimiter, strict=True)

    def rows() -> Iterator[tuple[int, list[str]]]:
        last_line = 0
        try:
            for row in reader:
                if any(map(str.strip, row)):
                    yield last_line + 1, row
                last_line = reader.line_num
        except csv.Error as error:
            raise BadInput(
                f"The file {name} breaks off in the row that begins on line {last_line + 1}: "
                f'{error}. Look for a " that is not closed there.'
            ) from error

    return from_rows(rows(), decimal_comma=delimiter != ",", full=True)


def _decoded(content: bytes, name: str) -> str:
    # A zero is a letter's other half in UTF-16, and nothing in a text.
    place = content.find(b"\0")
    try:
        text = content[: place if place >= 0 else None].decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = error.start
    if place >= 0:
        line = content.count(b"\n", 0, place) + 1
        raise BadInput(
            f"The file {name} is not in UTF-8: line {line} has a character of another encoding. "
            "Save it as 'CSV UTF-8' and try again."
        )
    return text


def _check_size(name: str, rows: int = 0, columns: int = 0, unpacked_bytes: int = 0) -> None:
    """Refuse a file that says that it unpacks to more than an import takes."""
    for count, most, what in (
        (rows, MOST_ROWS, "rows"),
        (columns, MOST_COLUMNS, "columns"),
        (unpacked_bytes, MOST_BYTES, "bytes when unpacked"),
    ):
        if count > most:
            raise BadInput(
                f"The file {name} has {count:,} {what}, and an import takes at most {most:,}. "
                "Divide it into several files. Nothing was read."
            )


def _text_columns(content: bytes) -> list[str]:
    """Name the columns of text: read as a list of texts, a text that repeats takes no room."""
    schema = pyarrow.parquet.read_schema(pa.BufferReader(content))
    texts = (pa.string(), pa.large_string(), pa.binary(), pa.large_binary())
    return [field.name for field in schema if field.type in texts]


def _check_flat(table: pa.Table, name: str) -> None:
    for field in table.schema:
        if pa.types.is_nested(field.type):
            raise BadInput(
                f"The column {field.name} of the file {name} has several values in a cell. Take "
                "it out, or write one value to a cell."
            )


def _text_bytes(column: pa.ChunkedArray) -> int:
    """Give the room that a column takes as text."""
    if not pa.types.is_dictionary(column.type):
        return int(column.nbytes)
    return sum(
        pc.sum(pc.binary_length(chunk.dictionary).take(chunk.indices)).as_py() or 0
        for chunk in column.chunks
        if len(chunk.dictionary) and _is_text(chunk.dictionary.type)
    )


def _is_text(kind: pa.DataType) -> bool:
    return kind in (pa.string(), pa.large_string(), pa.binary(), pa.large_binary())


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


def _arrow_texts(column: pa.ChunkedArray) -> pa.ChunkedArray:
    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    if pa.types.is_timestamp(column.type):
        moments = column.to_pandas()
        column = _as_column("" if moment is pd.NaT else moment.isoformat() for moment in moments)
    try:
        texts = column.cast(pa.large_string())
    except pa.ArrowException:
        texts = _as_column(None if value is None else str(value) for value in column.to_pylist())
    texts = pc.fill_null(texts, "")
    return pc.if_else(pc.equal(texts, "nan"), "", texts)


def _as_column(texts: Iterator[str | None]) -> pa.ChunkedArray:
    return pa.chunked_array([pa.array(texts, pa.large_string())])
