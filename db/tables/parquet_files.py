"""Parquet files as columns of text."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime, timezone

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet

from db.errors import BadInput
from db.tables.file_rows import FileRows, from_columns
from db.tables.limits import MOST_CELL_CHARACTERS, Progress, check_size, too_large, untold
from db.tables.parquet_pages import (
    CellsTooLong,
    described_columns,
    description_bytes,
    unpacked_bytes,
)
from db.tables.shown_texts import shortened
from db.tables.written_numbers import WITH_TYPES

# The metadata of a thousand columns in twenty row groups is smaller.
_MOST_DESCRIPTION_BYTES = 2**22
_MOST_PAGES = 100_000
_WIDEST_BITS = 512


def parquet_rows(content: bytes, name: str, tell: Progress = untold) -> FileRows:
    """Read a Parquet file whose cells hold one value each."""
    file = _opened(content, name)
    try:
        _check_pages(content, file.metadata, name)
    except CellsTooLong as error:
        raise _cells_too_long(name) from error
    tell(0.0, f"Reading {name}")
    table = file.read()
    check_size(name, unpacked_bytes=sum(map(_text_bytes, table.columns)))
    if any(_longest_text(column) > MOST_CELL_CHARACTERS for column in table.columns):
        raise _cells_too_long(name)
    titles, columns, size = table.column_names, table.columns, 0
    del table
    for place in range(len(columns)):  # each column is freed once it is text
        tell(place / len(columns), f"Reading {name}")
        columns[place] = _arrow_texts(columns[place])
        size += pc.sum(pc.binary_length(columns[place])).as_py() or 0
        check_size(name, unpacked_bytes=size, so_far=True)
    read = from_columns(titles, columns, name, WITH_TYPES, first_line=1)
    if read is None:
        raise BadInput(f"The file {name} has a column without a name. Name it, or take it out.")
    return read


def _opened(content: bytes, name: str) -> pyarrow.parquet.ParquetFile:
    """Open a file, once its metadata is known to be within the limits."""
    if (length := description_bytes(content)) > _MOST_DESCRIPTION_BYTES:
        found = f"a description of {length:,} bytes"
        raise too_large(name, found, f"{_MOST_DESCRIPTION_BYTES:,}")
    check_size(name, columns=described_columns(content))
    schema = pyarrow.parquet.read_schema(pa.BufferReader(content))
    for field in schema:
        _check_flat(field, name)
    # In dictionary columns, a text that repeats takes no more memory.
    texts = [field.name for field in schema if _is_text(field.type)]
    file = pyarrow.parquet.ParquetFile(pa.BufferReader(content), read_dictionary=texts)
    groups = (file.metadata.row_group(place) for place in range(file.metadata.num_row_groups))
    rows = max(file.metadata.num_rows, sum(group.num_rows for group in groups))
    columns = file.metadata.num_columns
    check_size(name, rows=rows, columns=columns, cells=rows * columns)
    return file


def _check_pages(content: bytes, metadata: pyarrow.parquet.FileMetaData, name: str) -> None:
    total = 0
    for count, size in enumerate(unpacked_bytes(content, metadata), start=1):
        total += size
        check_size(name, unpacked_bytes=total, so_far=True)
        if count > _MOST_PAGES:
            raise too_large(name, "more pages", f"{_MOST_PAGES:,}")


def _check_flat(field: pa.Field, name: str) -> None:
    if pa.types.is_nested(field.type):
        raise BadInput(
            f"The column {shortened(field.name)} of the file {name} has several values in a "
            "cell. Take it out, or write one value to a cell."
        )
    if not _is_plain(field.type):
        raise BadInput(
            f"The column {shortened(field.name)} of the file {name} holds {field.type}, which is "
            "neither text, number nor time. Take it out, or write it as text."
        )


def _is_plain(kind: pa.DataType) -> bool:
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    if _is_text(kind) or pa.types.is_null(kind):
        return True
    try:
        return bool(kind.bit_width <= _WIDEST_BITS)
    except ValueError:
        return False


def _is_text(kind: pa.DataType) -> bool:
    return (
        pa.types.is_string(kind)
        or pa.types.is_large_string(kind)
        or pa.types.is_string_view(kind)
        or pa.types.is_binary(kind)
        or pa.types.is_large_binary(kind)
        or pa.types.is_binary_view(kind)
    )


def _cells_too_long(name: str) -> BadInput:
    return too_large(name, f"more than {MOST_CELL_CHARACTERS:,} characters in a cell", "that")


def _longest_text(column: pa.ChunkedArray) -> int:
    """Return the length of a column's longest text in characters; 0 if there is no text."""
    chunks = column.chunks
    if pa.types.is_dictionary(column.type):
        chunks = [chunk.dictionary for chunk in chunks]
    texts = [chunk for chunk in chunks if pa.types.is_string(chunk.type)]
    return max((pc.max(pc.utf8_length(chunk)).as_py() or 0 for chunk in texts), default=0)


def _text_bytes(column: pa.ChunkedArray) -> int:
    """Return how many bytes a column takes as text."""
    if not pa.types.is_dictionary(column.type):
        return int(column.nbytes)
    return sum(
        pc.sum(pc.binary_length(chunk.dictionary).take(chunk.indices)).as_py() or 0
        for chunk in column.chunks
        if len(chunk.dictionary) and _is_text(chunk.dictionary.type)
    )


def _arrow_texts(column: pa.ChunkedArray) -> pa.ChunkedArray:
    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    if pa.types.is_timestamp(column.type):
        return _moment_texts(column)
    try:
        texts = column.cast(pa.large_string())
    except pa.ArrowException:
        texts = _as_column(None if value is None else str(value) for value in column.to_pylist())
    texts = pc.fill_null(texts, "")
    return pc.if_else(pc.equal(texts, "nan"), "", texts)


def _moment_texts(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Write timestamps in ISO 8601, without fractions of a second if none has one."""
    zone = column.type.tz
    with suppress(pa.ArrowInvalid):
        column = column.cast(pa.timestamp("s", zone))
    wall = column if zone is None else pc.local_timestamp(column)
    texts = wall.cast(pa.large_string())
    texts = pc.replace_substring(texts, " ", "T", max_replacements=1)
    if zone is not None:
        texts = pc.binary_join_element_wise(
            texts, _offset_texts(column, wall), pa.scalar("", pa.large_string())
        )
    return pc.fill_null(texts, "")


def _offset_texts(moments: pa.ChunkedArray, wall: pa.ChunkedArray) -> pa.ChunkedArray:
    """Write how far wall-clock times are ahead of UTC."""
    utc = moments.cast(pa.timestamp(wall.type.unit))
    ahead = pc.subtract(wall, utc).cast(pa.duration("s"))
    different = pc.unique(ahead)
    texts = [
        None if each is None else datetime(1, 1, 2, tzinfo=timezone(each)).isoformat()[19:]
        for each in different.to_pylist()
    ]
    return pa.chunked_array([pa.array(texts, pa.large_string())]).take(
        pc.index_in(ahead, different)
    )


def _as_column(texts: Iterable[str | None]) -> pa.ChunkedArray:
    return pa.chunked_array([pa.array(texts, pa.large_string())])
