"""Reads any file with a store: as the last one of its header, else by a guess.

`open_file` reads what stands in a file, `read_any` says what it is read as and what is asked,
`check_any` what storing it would do, and `store_any` stores it and remembers the reading. Whoever
imports without a person (a folder that is watched) stores a file when its reading is `remembered`
and has no open question.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pandas as pd

from db.errors import BadInput
from db.file.store import Store
from db.imports.kept_mappings import mapped_by
from db.imports.row_checks import ImportCheck
from db.imports.storing import ImportReport, check_rows, import_efforts
from db.layouts.laid_out import LaidOut, read_laid_out
from db.readings.guessing import about_athletes, guess_reading, shape_of
from db.readings.kept_readings import (
    free_name,
    keep_reading,
    known_of,
    names_athletes,
    remembered,
)
from db.readings.read_again import read_again
from db.readings.readings import Reading
from db.roster.athletes import save_athletes
from db.tables.limits import Progress, untold
from db.tables.text_tables import RawTable

__all__ = ["check_any", "open_file", "read_any", "rows_by", "store_any"]


def open_file(
    source: Path | bytes, name: str = "", sheet: str = "", progress: Progress = untold
) -> LaidOut:
    """Read the table that stands in a file; see `read_laid_out`."""
    return read_laid_out(source, name, sheet, progress)


def read_any(
    store: Store,
    laid: LaidOut,
    answers: Mapping[str, str] | None = None,
    may_add: bool = True,
) -> Reading:
    """Say how a file is read: as the last of its header, else by a guess.

    Parameters
    ----------
    store : Store
        As the person who imports sees it.
    laid : LaidOut
        The file, as `open_file` gives it.
    answers : mapping of str to str, optional
        What was said, by the key of the question. Whatever is about more than athletes changes
        an earlier reading: all else stays as it was answered then.
    may_add : bool
        Whether athletes may be added.
    """
    known, said = known_of(store, may_add), dict(answers or {})
    kept = remembered(store, shape_of(laid))
    if kept is None:
        return guess_reading(laid, known, said)
    name, mapping = kept
    changed = {key for key, answer in said.items() if mapping.answers.get(key) != answer}
    if all(map(about_athletes, changed)):
        again = read_again(laid, known, said, name, mapping)
        if again is not None:
            return again
    return replace(guess_reading(laid, known, {**mapping.answers, **said}), name=name)


def rows_by(store: Store, laid: LaidOut, reading: Reading) -> RawTable:
    """Give the rows of a file as an import takes them.

    Raises
    ------
    BadInput
        If a question is open.
    """
    if reading.mapping is None:
        asked = " ".join(each.text for each in reading.open_questions)
        raise BadInput(f"The file {laid.table.name} cannot be read yet. {asked}")
    return mapped_by(store, laid.table, reading.mapping, reading.name or free_name(store, laid))


def check_any(
    store: Store, laid: LaidOut, reading: Reading, progress: Progress = untold
) -> ImportCheck:
    """Say what storing a file by a reading would do; see `check_rows`."""
    return check_rows(store, rows_by(store, laid, reading), bool(reading.new_athletes), progress)


def store_any(
    store: Store, laid: LaidOut, reading: Reading, person: str, progress: Progress = untold
) -> ImportReport:
    """Store a file by a reading, with the athletes that are new, and remember the reading.

    A reading that names athletes in its columns is not remembered.

    Raises
    ------
    BadInput
        If a question is open.
    UnusableFile
        If nearly none of the rows can be used; nothing is stored but the new athletes.
    """
    table = rows_by(store, laid, reading)
    if reading.new_athletes:
        frame = pd.DataFrame(reading.new_athletes.values(), columns=["athlete", "name"], dtype=str)
        save_athletes(store, frame, person)
    # A sheet with the same header can have been saved just now.
    kept = remembered(store, shape_of(laid))
    name = reading.name or (kept[0] if kept else free_name(store, laid))
    report = import_efforts(store, table, person, progress=progress)
    if reading.mapping is not None and not names_athletes(reading.mapping):
        keep_reading(store, name, reading.mapping, person)
    return report
