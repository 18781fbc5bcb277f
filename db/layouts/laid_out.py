"""Read the table from any file, wherever it stands in the file."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import chain, islice
from pathlib import Path
from types import MappingProxyType

from db.errors import BadInput
from db.layouts.header_rows import LOOKED_AT, FoundHeader, find_header
from db.layouts.header_words import header_meaning, is_only_summary, parted
from db.layouts.plain_words import words_of
from db.tables.file_kinds import TEXT_ENDINGS
from db.tables.file_rows import Rows, row_text
from db.tables.limits import Progress, untold
from db.tables.text_tables import RawTable, read_text_table

__all__ = ["LaidOut", "LeftOut", "read_laid_out"]

WESTERN = (
    "The file is not in UTF-8. It was read as Western European text (Windows-1252): check the "
    "letters with accents."
)
# Bytes that no text in Windows-1252 has, but text in other encodings does.
_NOT_WRITTEN = (b"\x01", b"\x02", b"\x03", b"\x04", b"\x05")
MOST_LEFT_OUT = 1_000
"""How many of the lines left out are listed with their texts."""


@dataclass(frozen=True)
class LeftOut:
    """A line of a file that is not a row of its table: its number, its text, and why."""

    line: int
    text: str
    why: str


@dataclass(frozen=True)
class LaidOut:
    """The table of a file, and what stands around it.

    Attributes
    ----------
    table : RawTable
        The rows. What is stated once above the header is a column with the same text in every
        row.
    titles : mapping of str to str
        The names of the columns as the file writes them, by the name in lower case.
    from_above : tuple of str
        The columns that come from above the header.
    said : tuple of str
        Titles: the names of the file and the sheet, and texts above the header.
    left_out : tuple of LeftOut
        Lines that are not rows: totals, the header again, notes.
    notes : tuple of str
        What else was done to read the file, in sentences.
    """

    table: RawTable
    titles: MappingProxyType[str, str]
    from_above: tuple[str, ...]
    said: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...] = ()


def read_laid_out(
    source: Path | bytes, name: str = "", sheet: str = "", progress: Progress = untold
) -> LaidOut:
    """Read the table of a CSV, Parquet or Excel file as text; see `read_text_table`.

    Raises
    ------
    BadInput
        If the file cannot be read, or has no rows.
    """
    arranging = _Arranging()
    notes: tuple[str, ...] = ()
    try:
        table = read_text_table(source, name, sheet, progress, arranging.rows)
    except BadInput:
        changed = _in_utf8(source, name)
        if changed is None:
            raise
        source, name, notes = *changed, (WESTERN,)
        arranging = _Arranging()
        table = read_text_table(source, name, sheet, progress, arranging.rows)
    names = arranging.header.names if arranging.header else table.frame.columns
    titles = {str(each).strip().lower(): str(each).strip() for each in names}
    frame = table.frame.copy(deep=False)
    said = [Path(name or (source.name if isinstance(source, Path) else "")).stem]
    if table.sheets is not None and len(table.sheets.shown) + len(table.sheets.hidden) > 0:
        said.append(table.sheets.read)
    from_above = []
    for key, value in arranging.header.above if arranging.header else ():
        said += [value, f"{key} {value}"] if key else [value]
        if key and key.lower() not in titles:
            frame[key.lower()] = value
            titles[key.lower()] = key
            from_above.append(key.lower())
    return LaidOut(
        replace(table, frame=frame.astype("str"), origin=table) if from_above else table,
        MappingProxyType(titles),
        tuple(from_above),
        tuple(said),
        tuple(arranging.left_out),
        notes,
    )


def _in_utf8(source: Path | bytes, name: str) -> tuple[bytes, str] | None:
    """Return Western European text (Windows-1252) in UTF-8; None if it is not such text."""
    name = name or (source.name if isinstance(source, Path) else "")
    if Path(name).suffix.lower() not in TEXT_ENDINGS:
        return None
    content = source if isinstance(source, bytes) else source.read_bytes()
    with suppress(UnicodeDecodeError):
        content.decode("utf-8-sig")
        return None
    if b"\0" in content or any(sign in content for sign in _NOT_WRITTEN):
        return None
    with suppress(UnicodeDecodeError):
        return content.decode("cp1252").encode(), name
    return None


class _Arranging:
    """Yields the rows of a table, the header first, and notes what it leaves out."""

    def __init__(self) -> None:
        self.header: FoundHeader | None = None
        self.left_out: list[LeftOut] = []
        self._dates: list[int] = []

    def rows(self, rows: Rows) -> Rows:
        """Find the header among the first rows, and yield it and the rows below it."""
        first = list(islice(rows, LOOKED_AT))
        if not first:
            raise BadInput("The file has no rows. Nothing was read.")
        self.header = header = find_header(first)
        parts = [parted(name) for name in header.names]
        self._dates = [
            place for place, part in enumerate(parts) if header_meaning(part)[:1] == ("date",)
        ]
        heads = [[cell.strip() for cell in row] for _, row in first[: header.rows]]
        width = len(header.names)
        yield first[header.rows - 1][0], list(header.names)
        for line, row in chain(first[header.rows :], rows):
            if why := self._why_left_out(row, heads, width):
                if len(self.left_out) < MOST_LEFT_OUT:
                    self.left_out.append(LeftOut(line, row_text(row), why))
            else:
                yield line, row

    def _why_left_out(self, row: Sequence[str], heads: list[list[str]], width: int) -> str:
        filled = [cell.strip() for cell in row if cell.strip()]
        dated = any(row[at].strip() for at in self._dates if at < len(row))
        if is_only_summary(filled[0]) and not (self._dates and dated):
            return "a total"
        if len(filled) > 1 and [cell.strip() for cell in row] in heads:
            return "the header again"
        if len(filled) == 1 and width > 2 and row[0].strip() and len(words_of(filled[0])) > 3:
            return "a note"
        return ""
