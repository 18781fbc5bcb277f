"""Read files of every supported kind, and say what to do with others."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from db.errors import BadInput
from db.tables.excel_files import excel_rows, excel_sheets
from db.tables.file_rows import Arrange, FileRows, SheetsOf
from db.tables.limits import Progress, untold
from db.tables.parquet_files import parquet_rows
from db.tables.parquet_pages import SIGNATURE
from db.tables.text_files import csv_rows
from db.tables.workbooks import protected

KINDS_OF_FILE = "CSV or text (.csv, .tsv, .txt), Parquet (.parquet) or Excel (.xlsx)"
TEXT_ENDINGS = (".csv", ".tsv", ".txt")
_EXCEL = (".xlsx", ".xlsm")
_OTHER_SHEETS = {
    ".xls": "a workbook of Excel before 2007",
    ".xlsb": "a binary Excel workbook",
    ".ods": "an OpenDocument spreadsheet",
    ".numbers": "a Numbers spreadsheet",
}
# The container of old workbooks and of those with a password.
_COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1")
_PASSWORD = "EncryptedPackage".encode("utf-16-le")
_ARCHIVE = b"PK\x03\x04"


def check_kind(name: str) -> None:
    """Raise `BadInput` if files with this ending cannot be read."""
    ending = _ending(name)
    if ending in _OTHER_SHEETS:
        raise BadInput(
            f"The file {name} is {_OTHER_SHEETS[ending]}. Open it in your spreadsheet program and "
            "save it as .xlsx or as 'CSV UTF-8'."
        )
    if ending not in (*TEXT_ENDINGS, *_EXCEL, ".parquet"):
        raise BadInput(
            f"The file {name} is of a kind that cannot be read. Save it as {KINDS_OF_FILE}."
        )


def rows_of(
    content: bytes,
    name: str,
    sheet: str = "",
    tell: Progress = untold,
    arrange: Arrange | None = None,
) -> FileRows:
    """Read a file of any kind; from a workbook, read the sheet that is named.

    `arrange` finds the header, except in a Parquet file, whose columns have names.

    Raises
    ------
    BadInput
        If it cannot be read, is larger than an import takes, or has no such sheet.
    """
    check_kind(name)
    ending = _ending(name)
    if sheet and ending not in _EXCEL:
        raise BadInput(f"The file {name} has no sheets. Leave the name of the sheet out.")
    if ending in TEXT_ENDINGS:
        _check_text(content, name)
        return csv_rows(content, name, tell, arrange)
    if ending == ".parquet":
        with _read_by(name, "Parquet", "Write it again with usual settings, or as CSV."):
            return parquet_rows(content, name, tell)
    with _read_by_excel(content, name):
        return excel_rows(content, name, sheet, tell, arrange)


def sheets_of(content: bytes, name: str) -> SheetsOf | None:
    """Return the sheets of a workbook; None for a file of another kind.

    Raises
    ------
    BadInput
        If the workbook cannot be read.
    """
    if _ending(name) not in _EXCEL:
        return None
    with _read_by_excel(content, name):
        return excel_sheets(content, name)


def _ending(name: str) -> str:
    return Path(name).suffix.lower()


def _check_text(content: bytes, name: str) -> None:
    if content.startswith((_COMPOUND, _ARCHIVE, SIGNATURE)):
        raise BadInput(
            f"The file {name} is not text, though its name ends in {_ending(name)}. Give it the "
            "ending that it had, or save it as 'CSV UTF-8'."
        )


@contextmanager
def _read_by_excel(content: bytes, name: str) -> Iterator[None]:
    if content.startswith(_COMPOUND):
        if _PASSWORD in content:
            raise protected(name)
        raise BadInput(
            f"The file {name} is {_OTHER_SHEETS['.xls']}, though its name ends in "
            f"{_ending(name)}. Open it in your spreadsheet program and save it as .xlsx."
        )
    with _read_by(name, "Excel", "Open it in your spreadsheet program and save it anew as .xlsx."):
        yield


@contextmanager
def _read_by(name: str, kind: str, what_to_do: str) -> Iterator[None]:
    """Refuse a file if its reader raises any error.

    A damaged file can cause errors in the archive, its compression, the XML or a cell.
    """
    try:
        yield
    except BadInput:
        raise
    except Exception as error:
        raise BadInput(f"The file {name} cannot be read as {kind}. {what_to_do}") from error
