from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest

from db.backup.copying import restore
from db.errors import StoreError
from db.file import migrations
from db.file.checks import check
from db.file.store import Store
from db.fits.fit_checks import latest_check
from db.fits.results import latest_fit
from db.imports.storing import import_efforts
from db.plans.kept_games import kept_games
from db.plans.lengths import plans
from db.roster.athletes import list_athletes
from tests.db.conftest import dump, table_of
from tests.db.fits.test_results import FACTS

NOW = migrations.newest()
LATER = NOW + 1
UP_TO_LATER = list(range(1, LATER + 1))


@pytest.fixture
def store(closed_store):
    return closed_store


@pytest.fixture
def later_schema(tmp_path, monkeypatch) -> Path:
    """A folder of schema files with one more, as in the next version of the program."""
    folder = tmp_path / "schema"
    shutil.copytree(migrations.SCHEMA_FOLDER, folder)
    (folder / f"{LATER:04d}_nickname.sql").write_text(
        "ALTER TABLE athlete ADD COLUMN nickname VARCHAR;"
        "COMMENT ON COLUMN athlete.nickname IS 'What friends say.';"
        "CREATE TABLE badge (badge INTEGER PRIMARY KEY);"
        "COMMENT ON TABLE badge IS 'Badges.';"
    )
    monkeypatch.setattr(migrations, "SCHEMA_FOLDER", folder)
    return folder


def schema_of(store: Store) -> list[tuple[object, ...]]:
    with store.reading() as cursor:
        return cursor.execute(
            "SELECT table_name, column_name, data_type, is_nullable, column_default, comment "
            "FROM duckdb_columns() WHERE NOT internal "
            "UNION ALL SELECT table_name, constraint_text, NULL, NULL, NULL, NULL "
            "FROM duckdb_constraints() "
            "UNION ALL SELECT view_name, NULL, NULL, NULL, NULL, comment FROM duckdb_views() "
            "WHERE NOT internal "
            "UNION ALL SELECT table_name, NULL, NULL, NULL, NULL, comment FROM duckdb_tables() "
            "ORDER BY ALL"
        ).fetchall()


def versions_of(store: Store) -> list[int]:
    with store.reading() as cursor:
        found = cursor.execute("SELECT version FROM schema_version ORDER BY 1").fetchall()
    return [version for (version,) in found]


def test_every_schema_file_is_numbered_and_applied(store):
    files = migrations.schema_files()
    assert versions_of(store) == list(range(1, len(files) + 1))
    assert migrations.newest() == len(files)


def test_an_older_store_is_brought_up_when_it_is_opened(store, later_schema):
    rows = _rows_without_versions(store.path)
    assert versions_of(store) == UP_TO_LATER
    after = dump(store)
    assert after.pop("badge") == []
    after.pop("schema_version")
    assert {name: [row[:5] for row in table] for name, table in after.items()} == rows
    assert check(store) == []


def _rows_without_versions(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with duckdb.connect(path) as older:
        older.execute("SET TimeZone = 'UTC'")
        names = older.execute("SELECT table_name FROM duckdb_tables()").fetchall()
        return {
            name: [row[:5] for row in older.execute(f'FROM "{name}" ORDER BY ALL').fetchall()]
            for (name,) in names
            if name != "schema_version"
        }


def test_a_fresh_and_a_migrated_store_have_the_same_schema(store, later_schema, tmp_path):
    fresh = Store(tmp_path / "fresh.duckdb")
    fresh.create()
    assert ("badge", None, None, None, None, "Badges.") in schema_of(fresh)
    assert schema_of(store) == schema_of(fresh)


def test_the_store_is_copied_before_it_is_brought_up(store, later_schema):
    assert versions_of(store) == UP_TO_LATER
    (copy,) = store.path.parent.glob(f"store.schema-{NOW}.*.duckdb")
    assert copy.stat().st_mode & 0o777 == 0o600
    with duckdb.connect(copy, read_only=True) as older:
        assert older.execute("SELECT max(version) FROM schema_version").fetchone() == (NOW,)
    shutil.copyfile(copy, store.path)
    assert versions_of(store) == UP_TO_LATER
    assert list(list_athletes(store)["athlete"]) == ["A1", "A2"]
    assert len(list(store.path.parent.glob(f"store.schema-{NOW}.*.duckdb"))) == 2


def test_a_new_store_leaves_no_copy(later_schema, tmp_path):
    Store(tmp_path / "new" / "store.duckdb").create()
    assert [file.name for file in (tmp_path / "new").iterdir()] == ["store.duckdb"]


def test_a_schema_file_that_fails_leaves_the_store_as_it_was(store, later_schema):
    before = dump_at_first_schema(store, later_schema)
    (later_schema / f"{LATER + 1:04d}_wrong.sql").write_text(
        "CREATE TABLE half (x INTEGER); ALTER TABLE no_such_table ADD COLUMN x INTEGER;"
    )
    with pytest.raises(
        StoreError, match=f"to schema {LATER + 1}: .*no_such_table.* left at schema {LATER}"
    ):
        store.revision()
    assert [file.name for file in store.path.parent.glob(f"*.schema-{LATER}.*")] == []
    (later_schema / f"{LATER + 1:04d}_wrong.sql").unlink()
    assert versions_of(store) == UP_TO_LATER
    after = dump(store)
    assert "half" not in after
    assert {name: after[name] for name in ("audit", "measure")} == before


def dump_at_first_schema(store: Store, folder: Path) -> dict[str, list[tuple[object, ...]]]:
    later = folder / f"{LATER:04d}_nickname.sql"
    text = later.read_text()
    later.unlink()
    rows = dump(store)
    later.write_text(text)
    return {name: rows[name] for name in ("audit", "measure")}


def test_schema_files_with_a_gap_are_refused(store, later_schema):
    nickname = later_schema / f"{LATER:04d}_nickname.sql"
    nickname.rename(later_schema / f"{LATER + 1:04d}_nickname.sql")
    with pytest.raises(StoreError, match="not numbered 1, 2, 3 without gaps"):
        store.revision()


def test_a_half_made_store_is_finished(tmp_path):
    path = tmp_path / "store.duckdb"
    duckdb.connect(path).close()
    store = Store(path)
    assert store.revision() == 0
    assert versions_of(store) == list(range(1, NOW + 1))


def test_a_fit_saved_before_fits_were_checked_still_opens(tmp_path):
    shutil.unpack_archive(Path(__file__).parents[1] / "data" / "backup_schema_1.zip", tmp_path)
    (older,) = tmp_path.glob("warmcurve-*")
    store = Store(tmp_path / "older.duckdb")
    assert restore(older, store.path).schema_version == 1
    assert versions_of(store) == list(range(1, NOW + 1))
    fit = latest_fit(store, "jump_height")
    assert fit is not None and fit.effort_noise_pct == FACTS.effort_noise_pct
    assert latest_check(store, "jump_height") is None
    assert check(store) == []


def test_sessions_and_their_rows_survive_the_rebuilding_of_their_tables(tmp_path):
    """The schema that tells sessions apart by their offset from UTC rebuilds four tables."""
    path = tmp_path / "older.duckdb"
    with duckdb.connect(path) as older:
        migrations.build(older, 22)
        older.execute(
            "INSERT INTO athlete (athlete, name) VALUES ('A1', 'One');"
            "INSERT INTO session (athlete, measure, started_at, utc_offset_minutes, note) VALUES"
            " ('A1', 'jump_height', '2026-10-25 02:30', 120, 'first'),"
            " ('A1', 'jump_height', '2026-03-01 09:00', NULL, NULL);"
            "INSERT INTO effort (session_id, effort, value, volume, revision) VALUES"
            " (1, 1, 40, 5, 1), (1, 2, 41, 6, 1), (2, 1, 39, 5, 1);"
            "INSERT INTO effort_change (effort_id, person, reason, old_value, new_value)"
            " VALUES (2, 'tester', 'typed wrong', 14, 41);"
        )
        before = {name: _all(older, name) for name in ("session", "effort", "effort_change")}
    store = Store(path)
    report = import_efforts(
        store, table_of(["A1,2026-10-25T02:30+01:00,jump_height,1,38,5"]), "tester"
    )
    assert report.stored == 1
    with store.reading() as cursor:
        assert _all(cursor, "session")[:2] == [(*row, 1, None) for row in before["session"]]
        assert _all(cursor, "session")[2][-2:] == (2, None)
        assert _all(cursor, "effort")[:3] == before["effort"]
        assert _all(cursor, "effort_change") == before["effort_change"]
    assert check(store) == []


def test_a_first_game_that_a_second_one_replaced_comes_back(tmp_path):
    """Before schema 30, the plan of a day's second game replaced that of the first."""
    path = tmp_path / "older.duckdb"
    with duckdb.connect(path) as older:
        migrations.build(older, 29)
        older.execute(
            "INSERT INTO athlete (athlete, name) VALUES ('A1', 'One'), ('A2', 'Two');"
            # A2's choice was the same for both games, so there is only one row.
            "INSERT INTO plan (day, athlete, measure, goal, efforts_to_follow, chosen_volume,"
            " done_volume, person) VALUES ('2026-03-01', 'A1', 'jump_height', 'best', 1, 12, 11,"
            " 'carl'), ('2026-03-01', 'A2', 'jump_height', 'best', 1, 9, 8, 'carl'),"
            " ('2026-03-01', 'A1', 'jump_height', 'best', 1, 5, NULL, 'carl');"
        )
        for game, at, own, ended in (
            (1, "12:00", 1, "NULL"),
            (2, "18:00", 3, "'2026-03-01 13:20'"),
        ):
            older.execute(
                "INSERT INTO game (measure, day, goal, efforts_to_follow, place, ambient_c,"
                " general_minutes, minutes_per_effort, gap_minutes, staff, person) VALUES"
                " ('jump_height', '2026-03-01', 'best', 1, 'hall', 20, 12, 0.5, 5, 2, 'carl');"
                f"INSERT INTO game_start VALUES ({game}, 1, '2026-03-01 {at}');"
                "INSERT INTO game_wave (game_id, start_number, wave, volume, rest_minutes)"
                f" VALUES ({game}, 1, 1, 9, 5);"
                f"INSERT INTO game_course VALUES ({game}, 0, 0, FALSE, {ended});"
                "INSERT INTO game_athlete (game_id, athlete, role, start_number, wave, own_length,"
                " general_minutes, plan_id) VALUES"
                f" ({game}, 'A1', 'starts', 1, 1, FALSE, 12, {own}),"
                f" ({game}, 'A2', 'starts', 1, 1, FALSE, 12, 2);"
            )
    store = Store(path)
    assert [kept.game_id for kept in kept_games(store)] == [1, 2]
    held = plans(store, date(2026, 3, 1), "jump_height")
    assert held[["athlete", "chosen_volume", "second_game"]].values.tolist() == [
        ["A1", 12.0, False],
        ["A1", 5.0, True],
        ["A2", 9.0, False],
    ]
    assert held["done_volume"].tolist()[::2] == [11.0, 8.0]
    assert check(store) == []


def _all(cursor: duckdb.DuckDBPyConnection, table: str) -> list[tuple[object, ...]]:
    return cursor.execute(f"FROM {table} ORDER BY 1").fetchall()
