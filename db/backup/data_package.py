"""A store as Parquet files with an open description, a Frictionless Data Package."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from datetime import datetime
from errno import ENOSPC
from glob import escape
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import duckdb

from db.backup.files import DESCRIPTION_NAME, FOLDER_NAME, read_package
from db.errors import StoreDamaged
from db.file import migrations
from db.file.frames import fetch_number
from db.file.opening import SETTINGS, Settings, first_line, quoted
from db.file.transactions import transaction
from db.file.unfinished import private_file

_SETTINGS: Settings = {**SETTINGS}
_Key = tuple[str, list[str], str, list[str]]
_Column = tuple[str, str, bool, str | None, str | None]
FIELD_TYPES = {
    "VARCHAR": "string",
    "BLOB": "any",
    "DOUBLE[]": "array",
    "INTEGER": "integer",
    "BIGINT": "integer",
    "DOUBLE": "number",
    "BOOLEAN": "boolean",
    "DATE": "date",
    "TIMESTAMP": "datetime",
    "TIMESTAMP WITH TIME ZONE": "datetime",
}


def write_package(copy: Path, folder: Path, made_at: datetime) -> None:
    """Write every table of a store file as Parquet and describe them; nobody may have it open."""
    (folder / FOLDER_NAME).mkdir(mode=0o700)
    with duckdb.connect(copy, read_only=True, config=_SETTINGS) as root:
        root.execute("SET TimeZone = 'UTC'")
        resources = write_tables(root, folder)
        sequences = dict(
            root.execute("SELECT sequence_name, last_value FROM duckdb_sequences()").fetchall()
        )
        version = migrations.version(root, copy)
    description = {
        "name": "warmcurve-backup",
        "title": "Everything in a warmcurve store",
        "profile": "data-package",
        "created": made_at.isoformat(),
        "schema_version": version,
        "sequences": {name: last for name, last in sequences.items() if last is not None},
        "resources": resources,
    }
    private_file(folder / DESCRIPTION_NAME).write_text(
        json.dumps(description, indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
    )


def write_tables(root: duckdb.DuckDBPyConnection, folder: Path) -> list[dict[str, Any]]:
    """Write every table as a Parquet file into a folder's `data`, and describe each file.

    The descriptions of tables and columns are the comments in the schema.
    """
    keys, columns = _keys(root), _columns(root)
    return [
        _resource(root, table, folder, columns[table], keys.get(table, []))
        for table in _parents_first(root)
    ]


def verify_package(folder: Path) -> None:
    """Raise unless every file is as the description says.

    Raises
    ------
    StoreDamaged
        If one is missing or has changed, or the description cannot be read.
    """
    for resource in read_package(folder).resources:
        file = _file(folder, resource.name)
        if not file.is_file() or f"sha256:{sha256_of(file)}" != resource.hash:
            raise StoreDamaged(
                f"The backup {folder} is not as it was made: {resource.path} is missing or has "
                "changed. Take another backup."
            )


def fill_from_package(folder: Path, target: Path) -> None:
    """Make a store file with the rows and the schema version of the files.

    The files may come from anybody, so whatever does not fit the schema is refused.

    Parameters
    ----------
    folder : Path
        A folder that `verify_package` has checked.
    target : Path
        The file to make; no file may be there yet. The first use of the store brings it to
        the newest schema.

    Raises
    ------
    StoreDamaged
        If the files do not hold a store.
    """
    package = read_package(folder)
    try:
        with duckdb.connect(target, config=_SETTINGS) as root:
            root.execute("SET TimeZone = 'UTC'")
            migrations.build(root, package.schema_version)
            tables = _parents_first(root)
            _expect({resource.name for resource in package.resources} == set(tables), "tables")
            for table in reversed(tables):
                root.execute(f'DELETE FROM "{table}"')  # built-in rows: the files bring their own
            root.execute("CHECKPOINT")
            rows = {resource.name: resource.rows for resource in package.resources}
            with transaction(root):
                for table in tables:
                    _fill_table(root, table, _file(folder, table), rows[table])
            _set_sequences(root, package.sequences)
            _expect(migrations.version(root, target) == package.schema_version, "schema_version")
    except duckdb.Error as error:
        if "No space left" in str(error):
            raise OSError(ENOSPC, os.strerror(ENOSPC)) from error
        raise StoreDamaged(
            f"The Parquet files in {folder} do not hold a store: {first_line(error)} "
            "Take another backup."
        ) from error


def _fill_table(root: duckdb.DuckDBPyConnection, table: str, file: Path, rows: int) -> None:
    # DuckDB would read a * in the path as a wildcard, and key=value as a column.
    source = f"read_parquet({quoted(escape(str(file)), chr(39))}, hive_partitioning = 0)"
    held = root.execute(f"DESCRIBE FROM {source}").fetchall()
    wanted = root.execute(f'DESCRIBE FROM "{table}"').fetchall()
    _expect([column[:2] for column in held] == [column[:2] for column in wanted], table)
    _expect(fetch_number(root, f"SELECT count(*) FROM {source}") == rows, table)
    root.execute(f'INSERT INTO "{table}" FROM {source}')


def _set_sequences(root: duckdb.DuckDBPyConnection, sequences: Mapping[str, int]) -> None:
    """Let every sequence continue after the last number that it gave."""
    known = root.execute("SELECT sequence_name FROM duckdb_sequences()").fetchall()
    _expect(set(sequences) <= {name for (name,) in known}, "sequences")
    for name, last in sequences.items():
        root.execute("SELECT setval(?, ?)", [name, last])
    for table, column, default in root.execute(
        "SELECT table_name, column_name, column_default FROM duckdb_columns() "
        "JOIN duckdb_tables() USING (database_name, table_name) "
        "WHERE starts_with(column_default, 'nextval(')"
    ).fetchall():
        largest = fetch_number(root, f'SELECT coalesce(max("{column}"), 0) FROM "{table}"')
        _expect(largest <= sequences.get(default.split("'")[1], 0), table)


def _expect(fits: bool, what: str) -> None:
    if not fits:
        raise StoreDamaged(
            f"The Parquet files of the backup do not hold a store: {what} is not as it must be. "
            "Take another backup."
        )


def row_counts(root: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Count the rows of every table of an open store."""
    return {
        name: fetch_number(root, f"SELECT count(*) FROM {quoted(name, chr(34))}")
        for name in _parents_first(root)
    }


def sha256_of(file: Path) -> str:
    """Return the SHA-256 of a file, in hexadecimal."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _file(folder: Path, table: str) -> Path:
    return folder / FOLDER_NAME / f"{Path(table).name}.parquet"


def _resource(
    root: duckdb.DuckDBPyConnection,
    table: str,
    folder: Path,
    columns: list[_Column],
    keys: list[_Key],
) -> dict[str, Any]:
    file = _file(folder, table)
    written = root.execute(
        f'COPY (FROM "{table}") TO {quoted(str(private_file(file)), chr(39))} '
        "(FORMAT parquet, COMPRESSION zstd, USE_TMP_FILE false)"
    ).fetchone()
    return {
        "name": table,
        "path": file.relative_to(folder).as_posix(),
        "description": columns[0][4],
        "format": "parquet",
        "mediatype": "application/vnd.apache.parquet",
        "bytes": file.stat().st_size,
        "hash": f"sha256:{sha256_of(file)}",
        "rows": written[0] if written else 0,
        "schema": {
            "fields": [
                {
                    "name": name,
                    "type": FIELD_TYPES.get(kind, "any"),
                    "description": comment,
                    "constraints": {"required": not nullable},
                }
                for name, kind, nullable, comment, _ in columns
            ],
            "missingValues": [],  # an empty text is a value
            **_described(keys),
        },
    }


def _described(keys: list[_Key]) -> dict[str, Any]:
    described: dict[str, Any] = {}
    for kind, columns, parent, parent_columns in keys:
        if kind == "PRIMARY KEY":
            described["primaryKey"] = columns
        else:
            reference = {"resource": parent, "fields": parent_columns}
            one = {"fields": columns, "reference": reference}
            described.setdefault("foreignKeys", []).append(one)
    return described


def _columns(root: duckdb.DuckDBPyConnection) -> dict[str, list[_Column]]:
    """List, by table, the name, type, nullability and comment of columns, and its own comment."""
    columns: dict[str, list[_Column]] = {}
    for table, *column in root.execute(
        "SELECT table_name, column_name, data_type, is_nullable, c.comment, t.comment "
        "FROM duckdb_columns() c JOIN duckdb_tables() t USING (database_name, table_name) "
        "WHERE database_name = current_database() ORDER BY column_index"
    ).fetchall():
        columns.setdefault(table, []).append(tuple(column))
    return columns


def _keys(root: duckdb.DuckDBPyConnection) -> dict[str, list[_Key]]:
    """List the keys by table, all at once: DuckDB searches the whole schema to find one."""
    keys: dict[str, list[_Key]] = {}
    for table, *key in root.execute(
        "SELECT table_name, constraint_type, constraint_column_names, referenced_table, "
        "referenced_column_names FROM duckdb_constraints() "
        "WHERE constraint_type IN ('PRIMARY KEY', 'FOREIGN KEY') "
        "AND database_name = current_database()"
    ).fetchall():
        keys.setdefault(table, []).append(tuple(key))
    return keys


def _parents_first(root: duckdb.DuckDBPyConnection) -> list[str]:
    names = root.execute(
        "SELECT table_name FROM duckdb_tables() WHERE database_name = current_database() "
        "ORDER BY table_name"
    ).fetchall()
    keys = _keys(root)
    parents = {
        name: {parent for _, _, parent, _ in keys.get(name, []) if parent} for (name,) in names
    }
    return list(TopologicalSorter(parents).static_order())
