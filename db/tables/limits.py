"""How much an import takes, checked while a file is read, before it takes much memory.

A squad of 40 who each make 100 efforts a week has two million efforts after ten years. Refusing a
file of that size in which nothing can be used takes at most 500 MiB. A small file can claim to be
larger than any memory, or unpack to that. So the limits count what the file would become.
"""

from __future__ import annotations

from collections.abc import Callable

from db.errors import BadInput

Progress = Callable[[float, str], None]

MOST_ROWS = 2_000_000
# Cells may contain line breaks.
MOST_LINES = 4 * MOST_ROWS
MOST_COLUMNS = 1_000
MOST_CELLS = 25_000_000
MOST_BYTES = 200_000_000
# A spreadsheet cell has up to 32,767 characters; a row of efforts takes about a hundred.
MOST_CELL_CHARACTERS = 32_767
MOST_ROW_BYTES = 2**20
# Each is kept in memory with its text.
MOST_BROKEN_ROWS = 100_000
# Each is stored with its cells and its reason, for somebody to correct.
MOST_SET_ASIDE = 100_000
# A sheet is parsed cell by cell, a hundred times as slowly as text.
MOST_SHEET_CELLS = 2_000_000


def untold(share: float, what: str) -> None:
    """Tell nobody how far the reading is."""


def check_size(
    name: str,
    rows: int = 0,
    lines: int = 0,
    columns: int = 0,
    cells: int = 0,
    file_bytes: int = 0,
    unpacked_bytes: int = 0,
    so_far: bool = False,
) -> None:
    """Refuse a file as soon as it is known to be larger than an import takes.

    Parameters
    ----------
    name : str
        Name of the file.
    rows, lines, columns, cells, file_bytes, unpacked_bytes : int
        What was counted; blank lines count as rows, and empty cells as cells.
    so_far : bool
        Whether more may follow.

    Raises
    ------
    BadInput
        If one of them is over its limit.
    """
    for count, most, what in (
        (rows, MOST_ROWS, "rows"),
        (lines, MOST_LINES, "lines"),
        (columns, MOST_COLUMNS, "columns"),
        (cells, MOST_CELLS, "cells"),
        (file_bytes, MOST_BYTES, "bytes"),
        (unpacked_bytes, MOST_BYTES, "bytes when unpacked"),
    ):
        if count > most:
            found = f"{count:,} {what}"
            raise too_large(name, f"at least {found}" if so_far else found, f"{most:,}")


def too_large(name: str, found: str, allowed: str) -> BadInput:
    """Return the error for a file that is larger than an import takes."""
    what_to_do = (
        "Take out the columns that are not needed"
        if found.endswith("columns")
        else "Divide it into several files"
    )
    return BadInput(
        f"The file {name} has {found}, and an import takes at most {allowed}. {what_to_do}. "
        "Nothing was read."
    )
