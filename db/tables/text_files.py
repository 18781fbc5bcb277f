"""Delimited text as columns of text."""

from __future__ import annotations

import codecs
import csv
import io
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE, BOM_UTF32_LE
from collections.abc import Iterable, Iterator, Sequence

import pyarrow as pa
import pyarrow.csv

from db.errors import BadInput
from db.tables.file_rows import Arrange, FileRows, from_columns, from_rows
from db.tables.limits import MOST_COLUMNS, MOST_ROW_BYTES, Progress, check_size, untold
from db.tables.written_numbers import BETWEEN_COMMAS, BETWEEN_OTHERS, NumberWriting

# A chunk of UTF-16 can grow by half in UTF-8, and must still be shorter than a row may be.
_CHUNK_BYTES = MOST_ROW_BYTES // 2
_BLOCK_BYTES = 2**22
_ROWS_BETWEEN_LOOKS = 20_000
_LINES_LOOKED_AT = 60


def csv_rows(
    content: bytes, name: str, tell: Progress = untold, arrange: Arrange | None = None
) -> FileRows:
    """Read delimited text in UTF-8, or in UTF-16 with a byte order mark.

    Cells stand between commas, semicolons or tabs, or with `arrange` also between `|`. Numbers
    may have a decimal comma unless commas stand between the cells. With `arrange`, lines above
    the header may have fewer cells, and a row may lack cells at its end.
    """
    content = _checked(content, name)
    if b'"' not in content and _has_bare_return(content):
        content = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    head = content[: 2**16].removeprefix(BOM_UTF8).decode("utf-8", "replace")
    lines = [line for line in head.splitlines() if line.strip()]
    tell(0.0, f"Reading {name}")
    if arrange:
        return _quoted_rows(content, name, _usual_delimiter(lines), tell, arrange)
    delimiter = max(",;\t", key=next(iter(lines), "").count)
    return _plain_rows(content, name, delimiter) or _quoted_rows(content, name, delimiter, tell)


def _usual_delimiter(lines: Sequence[str]) -> str:
    """Return the delimiter that comes equally often in most of the first lines."""

    def in_lines(delimiter: str) -> tuple[int, int]:
        counts = [line.count(delimiter) for line in lines[:_LINES_LOOKED_AT]]
        usual = max(set(counts) - {0}, key=counts.count, default=0)
        return counts.count(usual) if usual else 0, usual

    return max(";\t|,", key=in_lines)


def _checked(content: bytes, name: str) -> bytes:
    """Check the number and length of a text's lines, and return it in UTF-8.

    UTF-16, which spreadsheets call Unicode text, is converted; all else is left as it is.
    """
    lines = _LineLengths(name)
    wide = content.startswith((BOM_UTF16_LE, BOM_UTF16_BE))
    if not wide or content.startswith(BOM_UTF32_LE):
        for start in range(0, len(content), _CHUNK_BYTES):
            lines.take(content[start : start + _CHUNK_BYTES])
        return content
    decoder = codecs.getincrementaldecoder("utf-16")()
    changed = io.BytesIO()
    for start in range(0, len(content), _CHUNK_BYTES):
        chunk = content[start : start + _CHUNK_BYTES]
        try:
            text = decoder.decode(chunk, start + len(chunk) == len(content)).encode()
        except UnicodeDecodeError as error:
            place = start + len(chunk) - len(error.object) + error.start
            raise BadInput(
                f"The file {name} begins as UTF-16 and breaks off in byte {place + 1}. Save it "
                "as 'CSV UTF-8' and try again."
            ) from error
        lines.take(text)
        changed.write(text)
    return changed.getvalue()


class _LineLengths:
    """Refuses a text with more lines, or a longer line, than a table may have."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._lines = self._length = 0

    def take(self, chunk: bytes) -> None:
        """Take the next piece of the text, shorter than a row may be."""
        ends = [place for sign in (b"\n", b"\r") if (place := chunk.find(sign)) >= 0]
        if self._length + min(ends, default=len(chunk)) > MOST_ROW_BYTES:
            raise _row_too_long(self._name, self._lines + 1)
        self._lines += max(chunk.count(b"\n"), chunk.count(b"\r"))
        check_size(self._name, lines=self._lines, so_far=True)
        last = max(chunk.rfind(b"\n"), chunk.rfind(b"\r"))
        self._length = len(chunk) - last - 1 if ends else self._length + len(chunk)


def _row_too_long(name: str, line: int) -> BadInput:
    return BadInput(
        f"The row of the file {name} that begins on line {line} is longer than "
        f"{MOST_ROW_BYTES:,} bytes, the most that a row may have. Look there for a missing end "
        'of line, or for a " that is not closed. Nothing was read.'
    )


def _plain_rows(content: bytes, name: str, delimiter: str) -> FileRows | None:
    """Read text if every line is a row as wide as the header; otherwise return None."""
    start = len(BOM_UTF8) if content.startswith(BOM_UTF8) else 0
    first = content[start : content.find(b"\n", start) + 1]
    if any(sign in content for sign in (b'"', b"\0")) or _has_bare_return(content):
        return None
    width, rows = first.count(delimiter.encode()) + 1, content.count(b"\n", start)
    check_size(name, rows=rows, columns=width, cells=rows * width)
    names = [f"f{place}" for place in range(width)]
    try:
        table = pyarrow.csv.read_csv(
            pa.BufferReader(pa.py_buffer(content)[start:]),
            pyarrow.csv.ReadOptions(column_names=names, block_size=_BLOCK_BYTES),
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
    return from_columns(header, columns, name, _writing(delimiter), first_line=2)


def _writing(delimiter: str) -> NumberWriting:
    return BETWEEN_COMMAS if delimiter == "," else BETWEEN_OTHERS


def _has_bare_return(content: bytes) -> bool:
    return b"\r" in content and content.count(b"\r") != content.count(b"\r\n")


def _quoted_rows(
    content: bytes,
    name: str,
    delimiter: str,
    tell: Progress = untold,
    arrange: Arrange | None = None,
) -> FileRows:
    """Read any delimited text, row by row."""
    _check_encoding(content, name)
    lines = _Lines(io.TextIOWrapper(io.BytesIO(content), "utf-8-sig", newline=""), name)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)

    def rows() -> Iterator[tuple[int, list[str]]]:
        cells = 0
        try:
            for count, row in enumerate(reader, start=1):
                if len(row) > MOST_COLUMNS:
                    cells += len(row)
                    check_size(name, cells=cells, so_far=True)
                if any(map(str.strip, row)):
                    yield lines.row_line, row
                lines.row_line, lines.row_start = reader.line_num + 1, lines.characters
                if count % _ROWS_BETWEEN_LOOKS == 0:
                    check_size(name, rows=count, so_far=True)
                    tell(lines.characters / len(content), f"Reading {name}")
        except csv.Error as error:
            raise BadInput(
                f"The file {name} breaks off in the row that begins on line {lines.row_line}: "
                f'{error}. Look for a " that is not closed there.'
            ) from error

    if arrange:
        return from_rows(arrange(rows()), name, _writing(delimiter))
    return from_rows(rows(), name, _writing(delimiter), full=True)


class _Lines:
    """The lines of a text, refused when a row gets too long."""

    def __init__(self, text: Iterable[str], name: str) -> None:
        self._text, self._name = text, name
        self.characters = 0
        self.row_line, self.row_start = 1, 0

    def __iter__(self) -> Iterator[str]:
        for line in self._text:
            self.characters += len(line)
            if self.characters - self.row_start > MOST_ROW_BYTES:
                raise _row_too_long(self._name, self.row_line)
            yield line


def _check_encoding(content: bytes, name: str) -> None:
    """Refuse a text that is not in UTF-8, in chunks to save memory."""
    # NUL bytes mean UTF-16; plain text has none.
    zero = content.find(b"\0")
    end, start = zero if zero >= 0 else len(content), 0
    place = zero
    while start < end:
        chunk = content[start : min(start + _CHUNK_BYTES, end)]
        try:
            start += codecs.utf_8_decode(chunk, "strict", start + len(chunk) == end)[1]
        except UnicodeDecodeError as error:
            place = start + error.start
            break
    if place >= 0:
        line = content.count(b"\n", 0, place) + 1
        raise BadInput(
            f"The file {name} is not in UTF-8: line {line} has a character of another encoding. "
            "Save it as 'CSV UTF-8' and try again."
        )
