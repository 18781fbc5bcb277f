"""The tables of the chosen files: how each is read, shown and made ready to save."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import streamlit as st

from dashboard.core.numbers import listed
from dashboard.data import preview
from dashboard.data.reading_form import answers_given, show_beside, show_reading
from dashboard.screen.elements import quiet
from dashboard.screen.file_choice import ChosenRows, ask_of, reading, stated_of
from db.errors import BadInput
from db.file.store import Store
from db.imports.kept_mappings import read_efforts
from db.imports.storing import ImportReport, check_rows, import_efforts
from db.imports.unusable_files import UnusableFile
from db.people.accounts import Person
from db.readings.any_file import check_any, open_file, read_any, store_any
from db.tables.file_kinds import sheets_of
from db.tables.limits import Progress
from db.tables.text_tables import RawTable

KEY = "import"


@dataclass(frozen=True)
class ChosenTable:
    """A table of a file: a sheet of a workbook, or the whole file."""

    upload: ChosenRows
    sheet: str

    @property
    def title(self) -> str:
        """The file, and the sheet if it is a workbook."""
        return f"{self.upload.name}, {self.sheet}" if self.sheet else self.upload.name

    @property
    def key(self) -> str:
        """What tells it apart from others on the page."""
        said = f"{self.upload.name} {self.sheet} {len(self.upload.content)}"
        return hashlib.sha256(said.encode()).hexdigest()[:8]


@dataclass(frozen=True)
class Importing:
    """Who imports where, and the mapping for all the tables, if one was chosen."""

    store: Store
    person: Person
    mapping: str | None


Saving = Callable[[Progress], ImportReport]


def tables_of(upload: ChosenRows) -> list[ChosenTable]:
    """List the tables of a file: every sheet of a workbook that is not hidden, else one.

    Raises
    ------
    BadInput
        If a workbook cannot be read.
    """
    sheets = sheets_of(upload.content, upload.name)
    if sheets is None:
        return [ChosenTable(upload, "")]
    if sheets.hidden:
        quiet(f"Hidden in the workbook, and not read: {listed(sheets.hidden)}.")
    return [ChosenTable(upload, sheet) for sheet in sheets.shown]


def show_table(table: ChosenTable, importing: Importing, place: int) -> Saving | None:
    """Read a table and show what saving it would do; None while a question is open.

    Raises
    ------
    StoreError
        If it cannot be read.
    """
    if importing.mapping is not None:
        return _by_columns(table, importing, place)
    try:
        return _by_columns(table, importing, place)
    except _OtherColumns:
        return _by_reading(table, importing, place)


class _OtherColumns(Exception):
    """The table has other columns than ours, or its header is no header."""


def _by_columns(table: ChosenTable, importing: Importing, place: int) -> Saving | None:
    """Read a table by its own columns or a mapping that was chosen, as the command does."""
    upload, store = table.upload, importing.store
    stated = stated_of(upload)
    with reading(KEY, str(place or "")) as progress:
        try:
            try:
                rows = read_efforts(
                    store,
                    upload.content,
                    upload.name,
                    mapping=importing.mapping,
                    sheet=table.sheet,
                    clock=stated.clock,
                    decimal_mark=stated.decimal_mark,
                    progress=progress,
                )
            except UnusableFile:
                raise
            except BadInput:
                if importing.mapping is None:
                    raise _OtherColumns from None
                raise
            add_athletes = _add_athletes(importing.person, place)
            check = check_rows(store, rows, add_athletes, progress)
        except UnusableFile as refusal:
            ask_of(upload, refusal.asked)
            raise
    ask_of(upload, check.asked)
    preview.show_import(rows.name, check)
    return partial(_import, store, rows, importing.person.person, add_athletes)


def _add_athletes(person: Person, place: int) -> bool:
    """Offer to add athletes, unless that would reveal a code to a person who sees only some."""
    return not person.limited and st.checkbox(
        "Add athletes that are not known yet, with their code as name",
        key=f"import_add{place or ''}",
    )


def _import(
    store: Store, rows: RawTable, person: str, add_athletes: bool, progress: Progress
) -> ImportReport:
    return import_efforts(store, rows, person, add_athletes, progress)


def _by_reading(table: ChosenTable, importing: Importing, place: int) -> Saving | None:
    store, key = importing.store, table.key
    with reading(KEY, f"guessed{place}") as progress:
        laid = open_file(table.upload.content, table.upload.name, table.sheet, progress)
        read = read_any(store, laid, answers_given(key), not importing.person.limited)
    show_reading(laid, read, key)
    if read.mapping is None:
        show_beside(laid, None)
        return None
    with reading(KEY, f"judged{place}") as progress:
        check = check_any(store, laid, read, progress)
    preview.show_set_aside(laid.table.name, check)
    in_file, as_saved = st.columns(2)
    with in_file:
        show_beside(laid, check.new)
    with as_saved:
        preview.show_to_store(check)
    return partial(store_any, store, laid, read, importing.person.person)
