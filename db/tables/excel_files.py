"""Excel workbooks: their sheets, and one sheet as columns of text."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from db.errors import BadInput
from db.tables.file_rows import Arrange, FileRows, SheetsOf, from_rows
from db.tables.limits import Progress, untold
from db.tables.shown_texts import some_of
from db.tables.workbooks import Sheet, Workbook
from db.tables.written_numbers import WITH_TYPES


def excel_rows(
    content: bytes,
    name: str,
    sheet: str = "",
    tell: Progress = untold,
    arrange: Arrange | None = None,
) -> FileRows:
    """Read a sheet of a workbook: the one named, else the first that is not hidden."""
    # Imported only here, because loading it takes as long as showing a page.
    from db.tables.sheet_cells import sheet_rows

    book = Workbook(content, name)
    chosen = _chosen(book, sheet)
    sheets = _sheets_of(book, chosen.name)
    rows = sheet_rows(book, chosen, tell)
    with _garbage_kept():
        return from_rows(arrange(rows) if arrange else rows, name, WITH_TYPES, sheets=sheets)


@contextmanager
def _garbage_kept() -> Iterator[None]:
    """Pause garbage collection: a million rows have none, and looking for it takes seconds."""
    collected = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collected:
            gc.enable()


def excel_sheets(content: bytes, name: str) -> SheetsOf:
    """Return the sheets of a workbook, and which one is read if none is named."""
    book = Workbook(content, name)
    return _sheets_of(book, _chosen(book, "").name)


def _chosen(book: Workbook, named: str) -> Sheet:
    shown = [sheet for sheet in book.sheets if not sheet.hidden]
    if not named:
        if shown:
            return shown[0]
        hidden = some_of([sheet.name for sheet in book.sheets])
        there = f"only hidden ones: {hidden}. Show one" if hidden else "only charts. Add one"
        raise BadInput(f"The file {book.name} has no sheet with cells, {there} and try again.")
    for sheet in book.sheets:
        if sheet.name.casefold() == named.strip().casefold():
            return sheet
    raise BadInput(
        f"The file {book.name} has no sheet '{named}'. Its sheets are "
        f"{some_of([sheet.name for sheet in book.sheets])}."
    )


def _sheets_of(book: Workbook, read: str) -> SheetsOf:
    return SheetsOf(
        read,
        tuple(sheet.name for sheet in book.sheets if not sheet.hidden),
        tuple(sheet.name for sheet in book.sheets if sheet.hidden),
    )
