"""Every table and view of the store, with the comments from its schema.

    python -m tests.data_dictionary

writes `docs/data-dictionary.md`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb

from db.file.migrations import build, newest
from db.privacy.open_package import PACKAGE_SCHEMA
from tests import export_columns
from tests.view_columns import view_rows

DOCUMENT = Path(__file__).parents[1] / "docs" / "data-dictionary.md"
BEGINNING = """# Data dictionary

What exports, the store and an open package hold. This page is made by
`python -m tests.data_dictionary` from `tests/export_columns.py` and from the comments in
`db/file/schema/` and `db/privacy/open_package.sql`. In the store and the package a column is
required unless its type says that it may be NULL; in exports none is missing unless it says so.
Columns that are part of the table's key are in bold.
"""
EXPORTED = "Exports, and the efforts file (`warmcurve export`)"
PACKAGE = "Open package (`warmcurve export package`)"
COLUMNS = """
SELECT column_name, data_type, is_nullable, comment FROM duckdb_columns()
WHERE table_name = ? ORDER BY column_index
"""
HEAD = ["| column | type | what it holds |", "|---|---|---|"]
KEYS = """
SELECT constraint_column_names, referenced_table, constraint_type FROM duckdb_constraints()
WHERE table_name = ? AND constraint_type IN ('PRIMARY KEY', 'FOREIGN KEY')
"""


def data_dictionary() -> str:
    """Write a section for each table and view of the newest schema, sorted by name."""
    with duckdb.connect() as store:
        build(store, newest())
        tables = _named(store, "SELECT table_name, comment FROM duckdb_tables() ORDER BY 1")
        views = _named(
            store, "SELECT view_name, comment FROM duckdb_views() WHERE NOT internal ORDER BY 1"
        )
        sections = [_table(store, name, comment) for name, comment in tables]
        seen = [_view(store, name, comment) for name, comment in views]
    with duckdb.connect() as package:
        package.execute(PACKAGE_SCHEMA.read_text(encoding="utf-8"))
        held = _named(package, "SELECT table_name, comment FROM duckdb_tables() ORDER BY 1")
        given = [_table(package, name, comment) for name, comment in held]
    parts = [
        f"## {EXPORTED}\n",
        *export_columns.sections(),
        "## Tables\n",
        *sections,
        "## Views\n",
        *seen,
        f"## {PACKAGE}\n",
        *given,
    ]
    return "\n".join([BEGINNING, *parts])


def _named(store: duckdb.DuckDBPyConnection, query: str) -> list[tuple[str, str]]:
    return store.execute(query).fetchall()


def _table(store: duckdb.DuckDBPyConnection, name: str, comment: str) -> str:
    key: set[str] = set()
    parents: dict[str, str] = {}
    for columns, parent, kind in store.execute(KEYS, [name]).fetchall():
        if kind == "PRIMARY KEY":
            key |= set(columns)
        else:
            parents |= dict.fromkeys(columns, parent)
    rows = _rows(store.execute(COLUMNS, [name]).fetchall(), key, parents)
    return "\n".join([f"### {name}\n", f"{comment}\n", *HEAD, *rows, ""])


def _rows(
    columns: list[tuple[str, str, bool, str]], key: set[str], parents: dict[str, str]
) -> Iterator[str]:
    for column, kind, may_be_null, comment in columns:
        shown = f"**{column}**" if column in key else column
        null = " or NULL" if may_be_null else ""
        points = f" Refers to [{parents[column]}](#{parents[column]})." if column in parents else ""
        yield f"| {shown} | {kind}{null} | {comment.replace('|', chr(92) + '|')}{points} |"


def _view(store: duckdb.DuckDBPyConnection, name: str, comment: str) -> str:
    rows = [f"| {column} | {kind} | {told} |" for column, kind, told in view_rows(store, name)]
    return "\n".join([f"### {name}\n", f"{comment}\n", *HEAD, *rows, ""])


if __name__ == "__main__":
    DOCUMENT.write_text(data_dictionary(), encoding="utf-8")
