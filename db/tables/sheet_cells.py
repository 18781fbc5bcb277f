"""The cells of one sheet of a workbook as text, row by row."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from functools import lru_cache

from openpyxl.styles.numbers import (
    BUILTIN_FORMATS,
    STRIP_RE,
    is_date_format,
    is_timedelta_format,
)
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from db.errors import BadInput
from db.tables.bounded_xml import NotAllowed, read_xml
from db.tables.limits import (
    MOST_CELL_CHARACTERS,
    MOST_COLUMNS,
    MOST_SHEET_CELLS,
    Progress,
    check_size,
    too_large,
    untold,
)
from db.tables.workbooks import Attributes, Sheet, Workbook

LAST_ROW = 1_048_576
"""The last row that an Excel sheet can have."""
_MOST_STRINGS, _MOST_STRING_CHARACTERS = 1_500_000, 2**25
# Excel writes at most 17 digits; thousands of them take a long time to become a number.
_LONGEST_NUMBER = 40
# For one sheet, because all its cells can refer to the same long text.
_MOST_SHEET_CHARACTERS = 2**26
_COLUMNS = {get_column_letter(place): place for place in range(1, MOST_COLUMNS + 1)}
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_HOURS = re.compile(r"(?<![_\\])[hs]", re.IGNORECASE)
_EPOCHS = {False: CALENDAR_WINDOWS_1900, True: CALENDAR_MAC_1904}


def sheet_rows(
    book: Workbook, sheet: Sheet, tell: Progress = untold
) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a sheet that are not empty.

    Parameters
    ----------
    book : Workbook
        The workbook.
    sheet : Sheet
        One of its sheets.
    tell : callable
        Called with the share done, from 0 to 1, and what is being done.

    Yields
    ------
    tuple of int and list of str
        The number of the row, and its cells as text up to the last filled one: times in ISO
        8601, `yes` and `no` for true and false. A whole number of days is a date if its format
        shows no time of day.

    Raises
    ------
    BadInput
        If the sheet is larger than an import takes.
    """
    book.check_tags(sheet.part, 5 * MOST_SHEET_CELLS, f"The sheet '{sheet.name}'")
    rows = _Rows(book.name, _strings(book, tell), _shown_forms(book), book.since_1904)
    size, done = max(book.unpacked_bytes(sheet.part), 1), 0
    for length in read_xml(book.unpacked(sheet.part), rows):
        yield from rows.ready
        rows.ready.clear()
        done += length
        tell(done / size, f"Reading {book.name}")
        if rows.ended:  # the rest is about how the sheet looks
            break


class _Cells:
    """Gathers the text of a cell from its pieces."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._characters = 0
        self._taking = self._spoken = False
        self._pieces: list[str] = []

    def text(self, text: str) -> None:
        """Take a piece of text."""
        if self._taking:
            self._characters += len(text)
            if self._characters > MOST_CELL_CHARACTERS:
                found = f"more than {MOST_CELL_CHARACTERS:,} characters in a cell"
                raise too_large(self._name, found, "that")
            self._pieces.append(text)

    def _whole(self) -> str:
        whole = "".join(self._pieces)
        self._pieces.clear()
        self._characters = 0
        return whole


class _Strings(_Cells):
    """The texts that cells refer to by number."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.strings: list[str] = []
        self._total = 0

    def start(self, tag: str, attributes: Attributes) -> None:
        """Begin an element."""
        if tag == "t":
            self._taking = not self._spoken
        elif tag == "rPh":  # how a text is pronounced, which is not part of it
            self._spoken = True

    def end(self, tag: str) -> None:
        """End an element."""
        if tag == "t":
            self._taking = False
        elif tag == "rPh":
            self._spoken = False
        elif tag == "si":
            self.strings.append(_unescaped(self._whole()))
            self._total += len(self.strings[-1])
            if self._total > _MOST_STRING_CHARACTERS:
                raise _too_much_text(self._name, _MOST_STRING_CHARACTERS)


class _Rows(_Cells):
    """Turns the elements of a sheet into rows."""

    def __init__(self, name: str, strings: list[str], forms: list[str], since_1904: bool) -> None:
        super().__init__(name)
        self.ready: list[tuple[int, list[str]]] = []
        self.ended = False
        self._strings, self._forms, self._since_1904 = strings, forms, since_1904
        self._inside = False
        self._line = self._column = 0
        self._cells = self._values = self._others = self._total = 0
        self._row: list[str] = []
        self._cell: Attributes = {}

    def start(self, tag: str, attributes: Attributes) -> None:
        """Begin an element."""
        if tag == "v" or tag == "t":
            self._values = self._counted(self._values)
            self._taking = self._inside and not self._spoken
        elif tag == "c":
            self._cells = self._counted(self._cells)
            reference = attributes.get("r")
            self._column = _column(reference) if reference else self._column + 1
            self._cell = attributes
        elif tag == "row" and self._inside:
            self._begin_row(int(attributes.get("r", self._line + 1)))
        else:  # formulas, and what is around the rows
            self._others = self._counted(self._others)
            self._spoken = self._spoken or tag == "rPh"
            self._inside = self._inside or tag == "sheetData"

    def end(self, tag: str) -> None:
        """End an element."""
        if tag == "v" or tag == "t":
            self._taking = False
        elif tag == "c":
            self._end_cell()
        elif tag == "row":
            if any(self._row):
                self.ready.append((self._line, self._row))
        elif tag == "rPh":
            self._spoken = False
        elif tag == "sheetData":
            self._inside, self.ended = False, True

    def _counted(self, before: int) -> int:
        if before >= MOST_SHEET_CELLS:
            raise too_large(self._name, f"more than {MOST_SHEET_CELLS:,} cells in a sheet", "that")
        return before + 1

    def _begin_row(self, line: int) -> None:
        if line <= self._line:
            raise NotAllowed(f"row {line} follows row {self._line}")
        if line > LAST_ROW:
            raise too_large(self._name, f"a row with the number {line:,}", f"{LAST_ROW:,} rows")
        self._line, self._column, self._row = line, 0, []

    def _end_cell(self) -> None:
        text = self._text_of_cell(self._whole()) if self._pieces else ""
        if text:
            if self._column > MOST_COLUMNS:
                check_size(self._name, columns=self._column)
            self._total += len(text)
            if self._total > _MOST_SHEET_CHARACTERS:
                raise _too_much_text(self._name, _MOST_SHEET_CHARACTERS)
            self._row.extend([""] * (self._column - len(self._row)))
            self._row[self._column - 1] = text

    def _text_of_cell(self, written: str) -> str:
        kind = self._cell.get("t", "n")
        if kind == "n":
            style = int(self._cell.get("s", "0"))
            form = self._forms[style] if style < len(self._forms) else ""
            return _number_text(written, form, self._since_1904)
        if kind == "s":
            return self._strings[int(written)]
        if kind == "b":
            return "yes" if int(written) else "no"
        return _unescaped(written)


def _too_much_text(name: str, most_characters: int) -> BadInput:
    return too_large(name, f"more than {most_characters:,} characters of text", "that")


def _strings(book: Workbook, tell: Progress) -> list[str]:
    if not book.strings:
        return []
    book.check_tags(book.strings, 4 * _MOST_STRINGS, "The list of texts")
    strings = _Strings(book.name)
    for _ in read_xml(book.unpacked(book.strings), strings):
        tell(0.0, f"Reading the texts of {book.name}")
    return strings.strings


def _shown_forms(book: Workbook) -> list[str]:
    """Return how each style shows a number: as a number, a date, a moment or a span of time."""
    return [_shown_form(code or BUILTIN_FORMATS.get(number, "")) for number, code in book.formats()]


@lru_cache(maxsize=10_000)
def _shown_form(code: str) -> str:
    if not is_date_format(code):
        return ""
    if is_timedelta_format(code):
        return "span"
    return "moment" if _HOURS.search(STRIP_RE.sub("", code.split(";")[0])) else "date"


@lru_cache(maxsize=100_000)
def _number_text(written: str, form: str, since_1904: bool) -> str:
    if len(written) > _LONGEST_NUMBER:
        return written
    number = float(written) if set(written) & set(".eE") else int(written)
    if not form:
        return str(int(number)) if isinstance(number, int) or number.is_integer() else str(number)
    try:
        moment = from_excel(number, _EPOCHS[since_1904], timedelta=form == "span")
    except (OverflowError, ValueError):
        return "#VALUE!"
    if not isinstance(moment, datetime):
        return str(moment)
    if form == "date" and isinstance(number, int):
        return moment.date().isoformat()
    return moment.isoformat()


def _column(reference: str) -> int:
    letters = reference.rstrip("0123456789")
    return _COLUMNS.get(letters) or column_index_from_string(letters)


def _unescaped(text: str) -> str:
    if "_x" not in text:
        return text
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
