"""Plain sentences for importing files."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard.core.numbers import counted, listed, whole
from db.imports.row_checks import ImportCheck
from db.imports.storing import ImportReport
from db.roster.athletes import FILE_PARSERS, AthletesSaved

FILE_COLUMNS = {
    "efforts": (
        "Any table with athletes, days and values: we say what we take each column for, and ask"
        " what the file doesn't show. Nothing is saved before you press the button, and"
        " importing a file again never doubles it."
    ),
    "athletes": (
        "One row per athlete: `athlete` (code), `name`, `position`, `born`, `active` and"
        " `squad` (several with `;` between, `-` for none). A known code is updated, an empty"
        " cell changes nothing."
    ),
}


def import_preview(name: str, check: ImportCheck) -> str:
    """Return what saving a file would do: the counts add up to the rows read."""
    told = [
        f"{name}: {counted(check.rows_read, 'row')} read. {whole(len(check.new))} to save,"
        f" {whole(check.known)} known already, {whole(len(check.set_aside))} to set aside."
    ]
    if check.new_athletes:
        told.append(f"New athletes: {listed(check.new_athletes)}.")
    if check.ignored_columns:
        told.append(f"Columns that are not read: {listed(check.ignored_columns)}.")
    return " ".join(told)


def not_ready(waiting: int, tables: int) -> str:
    """Return what keeps tables from being saved."""
    if tables == 1:
        return "Answer the questions above to see the rows as they will be saved."
    return (
        f"{counted(waiting, 'table')} of {tables} still {waiting == 1 and 'has' or 'have'} an"
        " open question or a problem. Answer it, or leave the table out."
    )


def import_done(report: ImportReport) -> str:
    """Return what saving a file has done."""
    return (
        f"{report.file}: {counted(report.rows_read, 'row')} read. {whole(report.stored)} saved,"
        f" {whole(report.known)} known already, {whole(report.set_aside)} set aside, in"
        f" {counted(report.sessions, 'session')}."
    )


def athletes_stored(saved: AthletesSaved, columns: Iterable[str]) -> str:
    """Return what saving the athletes of a file with these columns has done."""
    return (
        f"{counted(saved.added, 'athlete')} added, {saved.updated} updated,"
        f" {saved.unchanged} unchanged.{left_unread(columns)}"
    )


def left_unread(columns: Iterable[str]) -> str:
    """Return which columns of a file of athletes are not read; empty if all are.

    If a date of birth has another column name, a young athlete would get an adult's limits.
    """
    unread = [str(column) for column in columns if column not in FILE_PARSERS]
    if not unread:
        return ""
    return f" Not read: {listed(unread)}. The columns that are: {', '.join(FILE_PARSERS)}."
