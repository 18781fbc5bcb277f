from __future__ import annotations

import duckdb
import pytest

from db.imports.effort_files import COLUMNS
from db.roster.measures import list_measures
from db.tables import cells
from tests.db.conftest import dump


def test_every_table_and_column_and_view_has_a_comment(store):
    with store.reading() as cursor:
        tables = cursor.execute("SELECT table_name, comment FROM duckdb_tables()").fetchall()
        columns = cursor.execute(
            "SELECT table_name || '.' || column_name, c.comment FROM duckdb_columns() c "
            "JOIN duckdb_tables() USING (table_name)"
        ).fetchall()
        views = cursor.execute(
            "SELECT view_name, comment FROM duckdb_views() WHERE NOT internal"
        ).fetchall()
    assert len(tables) == 74 and len(views) > 10 and len(columns) > 100
    assert [name for name, comment in tables + columns + views if not comment] == []


def test_every_table_has_a_primary_key_and_three_have_another_key(store):
    with store.reading() as cursor:
        keyless = cursor.execute(
            "SELECT table_name FROM duckdb_tables() WHERE NOT has_primary_key"
        ).fetchall()
        unique = cursor.execute(
            "SELECT table_name, constraint_text FROM duckdb_constraints() "
            "WHERE constraint_type = 'UNIQUE' ORDER BY 1"
        ).fetchall()
    assert keyless == []
    assert unique == [
        ("effort", "UNIQUE(session_id, effort)"),
        ("person_email", "UNIQUE(email)"),
        ("session", "UNIQUE(athlete, measure, started_at, turn)"),
    ]


def test_the_built_in_measures(store):
    found = {measure.code: measure for measure in list_measures(store)}
    assert sorted(found) == ["bar_speed", "jump_height", "sprint_10m", "throw_speed"]
    sprint, throw = found["sprint_10m"], found["throw_speed"]
    assert (sprint.better, sprint.unit, sprint.worthwhile_pct) == ("lower", "s", 0.5)
    assert (throw.volume_unit, throw.lowest, throw.highest) == ("throws", 3.0, 60.0)
    assert all(measure.standard_volume is None for measure in found.values())


# A table, a column, and a value that it must refuse.
REFUSED = [
    ("effort", "value", "'nan'::DOUBLE"),
    ("effort", "value", "'infinity'::DOUBLE"),
    ("effort", "value", "0"),
    ("effort", "volume", "'nan'::DOUBLE"),
    ("effort", "volume", "-1"),
    ("effort", "effort", "0"),
    ("effort", "excluded", "''"),
    ("session", "kind", "'hard'"),
    ("session", "context", "'home'"),
    ("session", "freshness", "11"),
    ("session", "joints", "'nan'::DOUBLE"),
    ("session", "ambient_c", "'-infinity'::DOUBLE"),
    ("session", "rest_minutes", "-1"),
    ("session", "effort_rest_seconds", "3601"),
    ("measure", "lowest", "'nan'::DOUBLE"),
    ("measure", "standard_volume", "'infinity'::DOUBLE"),
    ("measure", "better", "'bigger'"),
    ("measure", "highest", "lowest"),
    ("measure", "worthwhile_pct", "'nan'::DOUBLE"),
]


def test_tables_refuse_bad_values(store, bring):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    before = dump(store)
    for table, column, value in REFUSED:
        with pytest.raises(duckdb.ConstraintException, match=f'CHECK.*table "{table}"'):
            with store.writing("tester", "break") as cursor:
                cursor.execute(f"UPDATE {table} SET {column} = {value}")
    assert dump(store) == before


@pytest.mark.parametrize("column", [c for c in COLUMNS if c in cells.LIMITS])
def test_tables_and_files_have_the_same_limits(store, column):
    table = "effort" if column in ("effort", "volume_before") else "session"
    stored_as = {"volume_before": "volume"}.get(column, column)
    lowest, highest = cells.LIMITS[column]
    with store.reading() as cursor:
        texts = cursor.execute(
            "SELECT constraint_text FROM duckdb_constraints() WHERE table_name = ? "
            "AND constraint_type = 'CHECK'",
            [table],
        ).fetchall()
    (limits,) = [text for (text,) in texts if f"({stored_as} BETWEEN" in text.replace('"', "")]
    assert f"BETWEEN {lowest:g} AND {highest:g}" in limits.replace("(-50)", "-50")
