"""Import a file of the inbox by a known reading, or say why a person has to look at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.core.numbers import counted
from dashboard.rules.status_words import far_sentence
from db.errors import BadInput
from db.file.store import Store
from db.imports.kept_mappings import read_efforts
from db.imports.past_imports import set_aside_rows
from db.imports.storing import ImportReport, import_efforts
from db.imports.unusable_files import UnusableFile
from db.readings.any_file import open_file, read_any, store_any
from db.roster.warm_ups import far_warm_ups
from db.tables.file_kinds import sheets_of

BY = "inbox"
MOST_LISTED = 200


class NeedsPerson(Exception):
    """A file waits for a person; the sentence says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class Taken:
    """The result for a file: its report, and whether all or some of its rows were set aside."""

    report: str
    set_aside: bool


def take(store: Store, content: bytes, name: str) -> Taken:
    """Import a file by the columns of our format, or by a reading remembered for its header.

    For a workbook, this means every sheet that is not hidden. All of them must be known, or none
    is imported. No athlete is added, because nobody is there to agree to it.

    Raises
    ------
    NeedsPerson
        If its layout is not known yet, or a person has to answer something about it.
    """
    try:
        sheets = sheets_of(content, name)
        names: Sequence[str] = sheets.shown if sheets else [""]
        importing = [_reading_of(store, content, name, sheet) for sheet in names]
        reports = [each.store(store) for each in importing]
    except UnusableFile as refusal:
        if refusal.asked:
            raise NeedsPerson(refusal.message) from refusal
        return Taken(f"Nothing of this file was stored.\n{refusal.message}\n", set_aside=True)
    except BadInput as refusal:
        return Taken(f"Nothing of this file was stored.\n{refusal.message}\n", set_aside=True)
    told = [_told(store, report) for report in reports]
    return Taken("\n".join(told), any(report.set_aside for report in reports))


@dataclass(frozen=True)
class _OwnColumns:
    """A table with the columns of our own format."""

    content: bytes
    name: str
    sheet: str

    def store(self, store: Store) -> ImportReport:
        table = read_efforts(store, self.content, self.name, sheet=self.sheet)
        return import_efforts(store, table, BY)


@dataclass(frozen=True)
class _Remembered:
    """A table whose header was read before."""

    content: bytes
    name: str
    sheet: str

    def store(self, store: Store) -> ImportReport:
        laid = open_file(self.content, self.name, self.sheet)
        return store_any(store, laid, read_any(store, laid), BY)


def _reading_of(store: Store, content: bytes, name: str, sheet: str) -> _OwnColumns | _Remembered:
    """Return how a table is read.

    Raises
    ------
    NeedsPerson
        If its layout was never read, or a question about it is open.
    BadInput
        If there is no table in it.
    """
    try:
        read_efforts(store, content, name, sheet=sheet)
    except UnusableFile:
        raise
    except BadInput:
        laid = open_file(content, name, sheet)
        reading = read_any(store, laid)
        where = f"The sheet {sheet} of this file" if sheet else "This file"
        if reading.open_questions:
            asked = " ".join(each.text for each in reading.open_questions)
            raise NeedsPerson(f"{where} asks: {asked}") from None
        if not reading.remembered:
            raise NeedsPerson(
                f"{where} has columns that were never read before. Look at how they are taken, and "
                "save it once; the next file of this layout is then imported by itself."
            ) from None
        return _Remembered(content, name, sheet)
    return _OwnColumns(content, name, sheet)


def _told(store: Store, report: ImportReport) -> str:
    """Return the report of a table: its counts, rows set aside and why, what looks mistyped."""
    lines = [
        f"{report.file}: {counted(report.rows_read, 'row')} read = {report.stored} stored + "
        f"{report.known} known + {report.set_aside} set aside"
    ]
    if report.set_aside:
        rows = set_aside_rows(store, report.batch_id)
        lines += [_line(row) for _, row in rows.head(MOST_LISTED).iterrows()]
        if (more := len(rows) - MOST_LISTED) > 0:
            lines.append(f"and {more} more; all of them are on the page Past imports")
    if far := far_sentence(far_warm_ups(store, batch_id=report.batch_id)):
        lines.append(far)
    return "\n".join(lines) + "\n"


def _line(row: pd.Series) -> str:
    where = "" if row["column"] == "row" else f", {row['column']}"
    return f"line {row['line']}{where}: {row['reason']}"


def known_layouts(store: Store) -> object:
    """Return a value that changes when files that wait are worth another look.

    It changes with mappings, athletes and measures.
    """
    with store.reading() as cursor:
        return cursor.execute(
            "SELECT (SELECT max(revision) FROM audit WHERE action IN ('save mapping', "
            "'delete mapping', 'save athletes', 'add athletes', 'change athletes', "
            "'save measure')), (SELECT count(*) FROM mapping), (SELECT count(*) FROM athlete)"
        ).fetchone()
