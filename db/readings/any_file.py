"""Reads any file with a store: as the last one of its header, else by a guess.

`open_file` reads what stands in a file, `read_any` says what it is read as and what is asked, and
`rows_by` gives rows as `db.imports.storing.check_rows` and `import_efforts` take them. Whoever
imports without a person (a folder that is watched) stores a file when its reading is remembered
and has no open question.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from db.errors import BadInput
from db.file.store import Store
from db.imports.kept_mappings import mapped_by
from db.layouts.laid_out import LaidOut, read_laid_out
from db.readings.guessing import guess_reading, shape_of
from db.readings.kept_readings import known_of, remembered
from db.readings.read_again import read_again
from db.readings.readings import Reading
from db.roster.athletes import save_athletes
from db.tables.limits import Progress, untold
from db.tables.text_tables import RawTable

__all__ = ["add_new_athletes", "open_file", "read_any", "rows_by"]


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
    anew: bool = False,
) -> Reading:
    """Say how a file is read: as the last of its header, else by a guess.

    Parameters
    ----------
    store : Store
        As the person who imports sees it.
    laid : LaidOut
        The file, as `open_file` gives it.
    answers : mapping of str to str, optional
        What was said, by the key of the question.
    may_add : bool
        Whether athletes may be added.
    anew : bool
        Whether earlier readings are passed over.
    """
    known = known_of(store, may_add)
    kept = None if anew else remembered(store, shape_of(laid))
    if kept is not None:
        again = read_again(laid, known, answers or {}, *kept)
        if again is not None:
            return again
    return guess_reading(laid, known, answers)


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
    return mapped_by(store, laid.table, reading.mapping, reading.remembered)


def add_new_athletes(store: Store, reading: Reading, person: str) -> None:
    """Add the athletes whom a person said are new."""
    if reading.new_athletes:
        frame = pd.DataFrame(reading.new_athletes.values(), columns=["athlete", "name"], dtype=str)
        save_athletes(store, frame, person)
