"""Saved mappings, by name."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from db.errors import BadInput
from db.file.store import Store
from db.imports.effort_files import check_columns
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, mapping_from_json, mapping_to_json
from db.imports.sampled_rows import check_sample
from db.layouts.laid_out import read_laid_out
from db.roster.measures import measures_of
from db.tables.limits import Progress, untold
from db.tables.text_tables import RawTable, read_text_table

__all__ = [
    "delete_mapping",
    "get_mapping",
    "list_mappings",
    "mapped_by",
    "read_efforts",
    "rename_mapping",
    "save_mapping",
]

LONGEST_NAME = 60
_TABLES = ("mapping", "mapping_athlete")


def list_mappings(store: Store) -> list[str]:
    """List the names of the saved mappings."""
    with store.reading() as cursor:
        rows = cursor.execute("SELECT mapping FROM mapping ORDER BY mapping").fetchall()
    return [str(name) for (name,) in rows]


def get_mapping(store: Store, name: str) -> ColumnMapping:
    """Return a saved mapping.

    Raises
    ------
    BadInput
        If no mapping has that name.
    """
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT mapping_json FROM mapping WHERE mapping = ?", [name]
        ).fetchone()
        codes = dict(
            cursor.execute(
                "SELECT written, athlete FROM mapping_athlete WHERE mapping = ?", [name]
            ).fetchall()
        )
    if row is None:
        names = ", ".join(list_mappings(store)) or "none"
        raise BadInput(
            f"There is no mapping '{name}'. Saved are: {names}. Make one by importing a file of "
            "that kind on the page Import."
        )
    mapping = mapping_from_json(row[0])
    return mapping.with_athletes(codes) if codes else mapping


def save_mapping(store: Store, name: str, mapping: ColumnMapping, person: str) -> None:
    """Save a mapping under a name, replacing any that already has it.

    Raises
    ------
    BadInput
        If the name is empty or too long.
    """
    name = _checked_name(name)
    with store.writing(person, "save mapping", name) as cursor:
        cursor.execute(
            "INSERT INTO mapping (mapping, mapping_json, person) VALUES (?, ?, ?) "
            "ON CONFLICT (mapping) DO UPDATE SET mapping_json = excluded.mapping_json, "
            "person = excluded.person, saved_at = now()",
            [name, mapping_to_json(mapping.with_athletes({})), person],
        )
        # Delete only the names of athletes that this person can see; others keep theirs.
        cursor.execute(
            "DELETE FROM mapping_athlete WHERE mapping = ? AND athlete IN "
            "(SELECT athlete FROM athlete)",
            [name],
        )
        for written, athlete in mapping.sources["athlete"].codes.items():
            cursor.execute(
                "INSERT INTO mapping_athlete VALUES (?, ?, ?) "
                "ON CONFLICT (mapping, written) DO UPDATE SET athlete = excluded.athlete",
                [name, written, athlete],
            )


def rename_mapping(store: Store, name: str, new_name: str, person: str) -> None:
    """Rename a saved mapping; imports made with it keep the name they were made under.

    Raises
    ------
    BadInput
        If there is no such mapping, or the new name is taken, empty or too long.
    """
    get_mapping(store, name)
    new_name = _checked_name(new_name)
    if new_name in list_mappings(store):
        raise BadInput(f"There is a mapping '{new_name}' already. Choose another name.")
    with store.writing(person, "rename mapping", f"{name} to {new_name}") as cursor:
        for table in _TABLES:
            cursor.execute(f"UPDATE {table} SET mapping = ? WHERE mapping = ?", [new_name, name])


def delete_mapping(store: Store, name: str, person: str) -> None:
    """Delete a saved mapping; what was imported with it stays as it is.

    Raises
    ------
    BadInput
        If no mapping has that name.
    """
    get_mapping(store, name)
    with store.writing(person, "delete mapping", name) as cursor:
        for table in _TABLES:
            cursor.execute(f"DELETE FROM {table} WHERE mapping = ?", [name])


def _checked_name(name: str) -> str:
    name = name.strip()
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        raise BadInput(f"A mapping needs a name of 1 to {LONGEST_NAME} characters on one line.")
    return name


def mapped_by(store: Store, table: RawTable, mapping: ColumnMapping, name: str = "") -> RawTable:
    """Read a table by a mapping, with the units of the store's measures; see `mapped`.

    Raises
    ------
    UnusableFile
        If nearly none of its rows can be used, even if unknown athletes are added.
    """
    with store.reading() as cursor:
        units = {measure.code: measure.unit for measure in measures_of(cursor)}
    read = partial(mapped, mapping=mapping, measure_units=units, name=name)
    check_sample(store, table, True, read, max(1, len(mapping.side_by_side)))
    return read(table)


def read_efforts(
    store: Store,
    source: Path | bytes,
    name: str = "",
    *,
    mapping: str | None = None,
    sheet: str = "",
    clock: str = "",
    decimal_mark: str = "",
    progress: Progress = untold,
) -> RawTable:
    """Read an efforts file by a saved mapping, or as it is if no mapping is named.

    Parameters
    ----------
    store : Store
        Where the mapping is saved.
    source : Path or bytes
        The file, or its content.
    name : str
        Name of the file, whose ending says its kind; needed with bytes.
    mapping : str, optional
        The name of the mapping.
    sheet : str
        The sheet of a workbook; by default the first that is not hidden.
    clock : str
        The time of day for rows that have only a date, such as 09:30; empty if not stated.
    decimal_mark : str
        `point` or `comma`; empty if the file or the mapping shows it.
    progress : callable
        Called with the share done, from 0 to 1, and what is being done.

    Raises
    ------
    BadInput
        If the file or the mapping cannot be read, or the file lacks a column that it needs or
        that the mapping names.
    """
    saved = None if mapping is None else get_mapping(store, mapping)
    if saved is not None and saved.shape:
        table = read_laid_out(source, name, sheet, progress).table
    else:
        table = read_text_table(source, name, sheet, progress)
    table = table.stated(clock, decimal_mark)
    if saved is not None and mapping is not None:
        return mapped_by(store, table, saved, mapping)
    check_columns(table)
    return table
