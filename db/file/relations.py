"""Which rows depend on which, and so what goes when a row goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter

import duckdb

from db.file.checks import PARENTS

# A column with one of these names refers to a row, even where no key enforces it.
_KEYS = {"athlete": "athlete", "session_id": "session", "effort_id": "effort", "plan_id": "plan"}
_AS_WRITTEN = "set_aside_row"


@dataclass(frozen=True, order=True)
class Relation:
    """A column of a table that refers to a row of a parent by its key."""

    table: str
    column: str
    parent: str
    key: str


def relations(root: duckdb.DuckDBPyConnection) -> list[Relation]:
    """List the relations of a store: its foreign keys, and those that no key enforces."""
    of_store = "database_name = current_database()"
    enforced = root.execute(
        "SELECT table_name, constraint_column_names[1], referenced_table, "
        "referenced_column_names[1] FROM duckdb_constraints() WHERE constraint_type = "
        f"'FOREIGN KEY' AND {of_store}"
    ).fetchall()
    columns = root.execute(
        "SELECT table_name, column_name FROM duckdb_columns() JOIN duckdb_tables() "
        "USING (database_name, table_name) "
        f"WHERE {of_store} AND table_name <> '{_AS_WRITTEN}'"
    ).fetchall()
    named = [
        (table, column, _KEYS[column], column)
        for table, column in columns
        if _KEYS.get(column, table) != table
    ]
    return sorted({Relation(*row) for row in [*enforced, *PARENTS, *named]})


def tables_in_order(
    root: duckdb.DuckDBPyConnection, known: Sequence[Relation] | None = None
) -> list[str]:
    """List the tables of a store, parents before children; `known` are its relations."""
    names = root.execute(
        "SELECT table_name FROM duckdb_tables() WHERE database_name = current_database() "
        "ORDER BY table_name"
    ).fetchall()
    parents: dict[str, set[str]] = {name: set() for (name,) in names}
    for relation in relations(root) if known is None else known:
        parents[relation.table].add(relation.parent)
    return list(TopologicalSorter(parents).static_order())


def with_dependants(
    root: duckdb.DuckDBPyConnection, conditions: Mapping[str, str]
) -> dict[str, str]:
    """Return, for each table, the condition of its rows that depend on some rows.

    Parameters
    ----------
    root : DuckDBPyConnection
        The store.
    conditions : mapping of str to str
        The rows to start from: an SQL condition for each table.
    """
    found = {table: f"({condition})" for table, condition in conditions.items()}
    known = relations(root)
    for table in tables_in_order(root, known):
        of_parents = [
            f'"{table}"."{one.column}" IN (SELECT p."{one.key}" FROM '
            f'(SELECT * FROM "{one.parent}" WHERE {found[one.parent]}) p)'
            for one in known
            if one.table == table and one.parent in found
        ]
        if of_parents:
            own = [found[table]] if table in found else []
            found[table] = "(" + " OR ".join([*own, *of_parents]) + ")"
    return found
