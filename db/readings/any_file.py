"""Read any file with a store: like the last one with its header, or by a guess.

`open_file` reads what is in a file. `read_any` says how it is read and what is asked, and
`check_any` what storing it would do. `store_any` stores it and remembers the reading. An import
without a person (from a watched folder) stores a file if its reading is `remembered` and has no
open question.
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
from db.readings.guessing import asked_of_each_file, guess_reading, shape_of
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
    """Read the table in a file; see `read_laid_out`."""
    return read_laid_out(source, name, sheet, progress)


def read_any(
    store: Store,
    laid: LaidOut,
    answers: Mapping[str, str] | None = None,
    may_add: bool = True,
) -> Reading:
    """Say how a file is read: like the last one with its header, or by a guess.

    Parameters
    ----------
    store : Store
        The store, as the person who imports sees it.
    laid : LaidOut
        The file, from `open_file`.
    answers : mapping of str to str, optional
        What was answered, by the key of the question. An answer that holds for more than this
        file changes an earlier reading, whose other answers stay.
    may_add : bool
        Whether athletes may be added.

    Raises
    ------
    BadInput
        If no column can be the athletes or the values.
    """
    known, said = known_of(store, may_add), dict(answers or {})
    kept = remembered(store, shape_of(laid))
    if kept is None:
        return guess_reading(laid, known, said)
    name, mapping = kept
    changed = {key for key, answer in said.items() if mapping.answers.get(key) != answer}
    if all(map(asked_of_each_file, changed)):
        again = read_again(laid, known, said, name, mapping)
        if again is not None:
            return again
    # Earlier versions kept the day of a file as well.
    kept_answers = {key: each for key, each in mapping.answers.items() if key != "day"}
    return replace(guess_reading(laid, known, {**kept_answers, **said}), name=name)


def rows_by(store: Store, laid: LaidOut, reading: Reading) -> RawTable:
    """Return the rows of a file as an import takes them.

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
    """Store a file by a reading, add its new athletes, and remember the reading.

    A reading whose columns name athletes is not remembered.

    Raises
    ------
    BadInput
        If a question is open.
    UnusableFile
        If nearly none of the rows can be used; at most the new athletes are stored.
    """
    table = rows_by(store, laid, reading)
    if reading.new_athletes:
        frame = pd.DataFrame(reading.new_athletes.values(), columns=["athlete", "name"], dtype=str)
        save_athletes(store, frame, person)
    # The reading of a sheet with the same header may have been saved just now.
    kept = remembered(store, shape_of(laid))
    name = reading.name or (kept[0] if kept else free_name(store, laid))
    report = import_efforts(store, table, person, progress=progress)
    if reading.mapping is not None and not names_athletes(reading.mapping):
        keep_reading(store, name, reading.mapping, person)
    return report
