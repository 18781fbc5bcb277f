"""What `warmcurve import --guess` prints for each table: its reading, its questions, its rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from dashboard.core.numbers import counted
from dashboard.core.terminal import progress_bar, say, user
from dashboard.data.import_report import tell_set_aside
from db.errors import BadInput
from db.file.store import Store
from db.imports.past_imports import set_aside_rows
from db.layouts.laid_out import LaidOut
from db.readings.any_file import check_any, open_file, read_any, store_any
from db.readings.readings import Question, Reading
from db.tables.file_kinds import sheets_of

FORMS = {"time": "a time such as 09:30", "number": "a number", "day": "a day such as 2026-03-01"}


def answers_of(said: Iterable[str]) -> dict[str, str]:
    """Split answers of the form `KEY=VALUE`.

    Raises
    ------
    BadInput
        If one has no `=`.
    """
    answers = {}
    for each in said:
        # A column or an athlete can have an equals sign in its name.
        key, sign, value = each.rpartition("=")
        if not sign or not key.strip() or not value.strip():
            raise BadInput(f"'{each}' is no answer; write KEY=VALUE, such as dates='day first'.")
        answers[key.strip()] = value.strip()
    return answers


def tables_of(file: Path, sheet: str) -> Iterator[LaidOut]:
    """Read every table of a file: the sheet that is named, else all that are not hidden."""
    names = [sheet]
    if not sheet and file.is_file() and (sheets := sheets_of(file.read_bytes(), file.name)):
        names = list(sheets.shown)
    for name in names:
        with progress_bar() as progress:
            yield open_file(file, sheet=name, progress=progress)


def import_guessed(
    store: Store, laid: LaidOut, answers: Mapping[str, str], dry_run: bool, as_json: bool
) -> tuple[bool, int]:
    """Read a table by a guess, store it unless a question is open, and print the outcome.

    Returns
    -------
    tuple of bool and int
        Whether no question is open, and how many rows were set aside.
    """
    reading = read_any(store, laid, answers)
    rows, aside = None, None
    if reading.mapping is not None:
        with progress_bar() as progress:
            if dry_run:
                check = check_any(store, laid, reading, progress)
                aside = check.set_aside
                rows = _rows(check.rows_read, len(check.new), check.known, len(aside))
            else:
                report = store_any(store, laid, reading, user(), progress)
                aside = set_aside_rows(store, report.batch_id)
                rows = _rows(report.rows_read, report.stored, report.known, report.set_aside)
    if as_json:
        print(json.dumps(as_object(laid, reading, rows), ensure_ascii=False))
    else:
        _print_reading(laid, reading, rows, "to store" if dry_run else "stored")
    if aside is not None and len(aside):
        tell_set_aside(aside)
    _tell_questions(reading.open_questions)
    return rows is not None, rows["set_aside"] if rows else 0


def as_object(laid: LaidOut, reading: Reading, rows: Mapping[str, int] | None) -> dict[str, Any]:
    """Give a reading as `--json` writes it."""
    return {
        "file": laid.table.name,
        "reading": reading.name,
        "remembered": reading.remembered,
        "notes": list(laid.notes),
        "columns": [
            {
                "column": each.column,
                "meaning": each.meaning,
                "measure": each.measure,
                "unit": each.unit,
                "into": each.into,
                "sure": each.sure,
                "sentence": each.sentence,
            }
            for each in reading.columns
        ],
        "questions": [
            {
                "key": each.key,
                "question": each.text,
                "choices": [choice.value for choice in each.choices],
                "answer": each.answer,
            }
            for each in reading.questions
        ],
        "left_out": [
            {"line": each.line, "row": each.text, "why": each.why} for each in reading.left_out
        ],
        "rows": rows,
    }


def _rows(read: int, stored: int, known: int, set_aside: int) -> dict[str, int]:
    return {"read": read, "stored": stored, "known": known, "set_aside": set_aside}


def _print_reading(
    laid: LaidOut, reading: Reading, rows: Mapping[str, int] | None, verb: str
) -> None:
    for each in reading.columns:
        print(each.sentence)
    for note in laid.notes:
        say(note)
    if reading.remembered:
        print(f"Read as {reading.name} was.")
    if reading.left_out:
        print(f"{counted(len(reading.left_out), 'line')} left out: {_left_out(reading)}.")
    if rows is not None:
        print(
            f"{laid.table.name}: {rows['read']} rows read = {rows['stored']} {verb} + "
            f"{rows['known']} known + {rows['set_aside']} set aside"
        )


def _left_out(reading: Reading) -> str:
    shown = [f"line {each.line}, {each.why}" for each in reading.left_out[:5]]
    return "; ".join(shown) + (" and more" if len(reading.left_out) > 5 else "")


def _tell_questions(questions: Sequence[Question]) -> None:
    for each in questions:
        offered = ", ".join(choice.value for choice in each.choices) or FORMS[each.form]
        say(f"{each.text} Say it with --answer '{each.key}=...': {offered}.")
