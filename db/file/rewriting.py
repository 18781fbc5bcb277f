"""Rewrite a store without some of its rows, as a whole or not at all.

A row deleted in place leaves its bytes in the file until DuckDB needs the room. So a new file is
written without what must go, and then takes the place of the old one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import duckdb

from db.errors import StoreError
from db.file.frames import fetch_number
from db.file.opening import quoted
from db.file.relations import tables_in_order
from db.file.store import Store
from db.file.transactions import record_write, transaction
from db.file.unfinished import unfinished


@dataclass(frozen=True)
class Rewrite:
    """What changes from the old file to the new one.

    Attributes
    ----------
    action, detail : str
        For the audit.
    dropped : mapping of str to str
        For each table, the SQL condition of the rows that go.
    replaced : mapping of str to mapping of str to str
        For each table and column, what to write instead, as an SQL expression over the row.
    added : mapping of str to str
        For each table, the rows to add, as a query of the old file.
    """

    action: str
    detail: str
    dropped: Mapping[str, str]
    replaced: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    added: Mapping[str, str] = field(default_factory=dict)


def rewrite(
    store: Store, person: str, decide: Callable[[duckdb.DuckDBPyConnection], Rewrite]
) -> Rewrite:
    """Rewrite the store while nobody else has it, and put the new file in its place.

    Parameters
    ----------
    store : Store
        The store; other units of work wait meanwhile.
    person : str
        Who asked for it.
    decide : callable
        Takes a connection that reads the old file and says what changes.

    Raises
    ------
    StoreError
        If the new file cannot be written, lacks rows, or would have two rows that are the same;
        the store then stays as it was.
    """
    try:
        with store.alone() as root, unfinished(store.path.parent) as part:
            change = decide(root)
            root.execute("CHECKPOINT")
            _copy(root, part / "store.duckdb", person, change)
            _replace(part / "store.duckdb", store.path)
    except OSError as error:
        raise StoreError(
            f"The store {store.path} could not be rewritten: {error.strerror}. Nothing "
            "was changed. Check the folder and the room on the disk."
        ) from error
    except duckdb.ConstraintException as error:
        raise StoreError(
            f"The store {store.path} could not be rewritten, as two of its rows would become "
            f"the same: {str(error).splitlines()[0]} Nothing was changed."
        ) from error
    return change


def _copy(root: duckdb.DuckDBPyConnection, part: Path, person: str, change: Rewrite) -> None:
    row = root.execute("SELECT current_database()").fetchone()
    source = quoted(str(row[0]) if row else "", '"')
    tables = tables_in_order(root)
    root.execute(f"ATTACH {quoted(str(part), chr(39))} AS rewritten")
    try:
        part.chmod(0o600)
        root.execute(f"COPY FROM DATABASE {source} TO rewritten (SCHEMA)")
        with transaction(root):
            for table in tables:
                _copy_table(root, table, change)
            for table, rows in change.added.items():
                root.execute(f'INSERT INTO rewritten.main."{table}" BY NAME {rows}')
            record_write(root, person, change.action, change.detail, "rewritten.main.audit")
    finally:
        root.execute("DETACH rewritten")


def _copy_table(root: duckdb.DuckDBPyConnection, table: str, change: Rewrite) -> None:
    stays = f"NOT coalesce({change.dropped.get(table, 'false')}, false)"
    instead = ", ".join(
        f'{expression} AS "{column}"'
        for column, expression in change.replaced.get(table, {}).items()
    )
    columns = f"* REPLACE ({instead})" if instead else "*"
    root.execute(
        f'INSERT INTO rewritten.main."{table}" SELECT {columns} FROM "{table}" WHERE {stays}'
    )
    expected = fetch_number(root, f'SELECT count(*) FROM "{table}" WHERE {stays}')
    if fetch_number(root, f'SELECT count(*) FROM rewritten.main."{table}"') != expected:
        raise StoreError(
            f"The table {table} could not be rewritten: rows are missing. Nothing was changed."
        )


def _replace(part: Path, path: Path) -> None:
    """Put the new file in the place of the old one, which is still locked against others.

    The old file is emptied, because another process may have opened it and be waiting for its
    lock. That process must not read it together with the log that others write for the new file.
    """
    with part.open("rb") as written:
        os.fsync(written.fileno())
    with path.open("r+b") as old:
        os.replace(part, path)
        old.truncate(0)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
