from __future__ import annotations

import json
import os
import stat
from concurrent.futures import ThreadPoolExecutor

import pytest

from db import migrations
from db.backup import backup, restore
from db.errors import BadInput, StoreBusy, StoreDamaged, StoreError, StoreTooNew
from db.settings import set_setting
from db.store import Store
from tests.db.conftest import dump, table_of
from tests.db.test_migrations import schema_of


@pytest.fixture
def store(closed_store):
    from db.imports import import_efforts

    rows = ["A1,2026-03-01T09:00,jump_height,1,40,0", "A9,2026-03-01T09:00,jump_height,1,40,0"]
    import_efforts(closed_store, table_of(rows), "tester")
    return closed_store


def test_a_backup_restores_every_row_comment_and_number(store, tmp_path):
    report = backup(store, tmp_path / "backups")
    restored = Store(tmp_path / "new" / "restored.duckdb")
    assert restore(report.folder, restored.path) == report
    assert dump(restored) == dump(store)
    assert schema_of(restored) == schema_of(store)
    assert stat.S_IMODE(restored.path.stat().st_mode) == 0o600
    assert os.listdir(restored.path.parent) == ["restored.duckdb"]
    for both in (store, restored):
        with both.writing("tester", "next number") as cursor:
            cursor.execute(
                "INSERT INTO session (athlete, measure, started_at) "
                "VALUES ('A2', 'jump_height', '2026-03-01')"
            )
    assert dump(restored)["session"] == dump(store)["session"]


def test_a_backup_says_what_is_in_it(store, tmp_path):
    report = backup(store, tmp_path)
    assert sorted(os.listdir(report.folder)) == ["manifest.json", "warmcurve.duckdb"]
    assert stat.S_IMODE(report.folder.stat().st_mode) == 0o700
    assert stat.S_IMODE((report.folder / "warmcurve.duckdb").stat().st_mode) == 0o600
    manifest = json.loads((report.folder / "manifest.json").read_text())
    assert manifest["rows"] == report.rows
    assert (report.rows["effort"], report.rows["athlete"], report.rows["set_aside_row"]) == (
        1,
        2,
        1,
    )
    assert (report.revision, report.schema_version) == (store.revision(), migrations.newest())
    assert backup(store, tmp_path).folder != report.folder


def test_a_backup_waits_for_units_of_work_of_this_process(store, tmp_path):
    hurried = Store(store.path, wait_seconds=0.2)
    with store.reading(), pytest.raises(StoreBusy, match="Other work of this program"):
        backup(hurried, tmp_path / "backups")
    assert os.listdir(tmp_path / "backups") == []
    with ThreadPoolExecutor(4) as pool:
        saved = [pool.submit(set_setting, store, f"key {n}", "x", "coach") for n in range(6)]
        reports = [pool.submit(backup, store, tmp_path / "backups") for _ in range(2)]
        for work in [*saved, *reports]:
            work.result()
    assert len(os.listdir(tmp_path / "backups")) == 2


def test_a_restore_overwrites_nothing(store, tmp_path):
    report = backup(store, tmp_path)
    before = dump(store)
    with pytest.raises(BadInput, match=r"a file .*store\.duckdb already"):
        restore(report.folder, store.path)
    assert dump(store) == before
    log = tmp_path / "other.duckdb.wal"
    log.write_bytes(b"rows of somebody")
    with pytest.raises(BadInput, match=r"other\.duckdb\.wal already"):
        restore(report.folder, tmp_path / "other.duckdb")
    assert not (tmp_path / "other.duckdb").exists()


def test_a_folder_without_a_backup(store, tmp_path):
    report = backup(store, tmp_path)
    with pytest.raises(BadInput, match=f"holds the backups {report.folder.name}: name one"):
        restore(tmp_path, tmp_path / "new.duckdb")
    with pytest.raises(BadInput, match="manifest.json is missing.$"):
        restore(tmp_path / "none", tmp_path / "new.duckdb")


def test_a_backup_that_has_changed_is_refused(store, tmp_path):
    report = backup(store, tmp_path)
    copy = report.folder / "warmcurve.duckdb"
    content = bytearray(copy.read_bytes())
    content[len(content) // 2] ^= 1
    copy.write_bytes(content)
    with pytest.raises(StoreDamaged, match="is not as it was made"):
        restore(report.folder, tmp_path / "new.duckdb")
    copy.unlink()
    with pytest.raises(StoreDamaged, match="is missing or has changed"):
        restore(report.folder, tmp_path / "new.duckdb")
    assert not (tmp_path / "new.duckdb").exists()


@pytest.mark.parametrize(
    ("change", "error", "sentence"),
    [
        ({"rows": {"effort": 2}}, StoreDamaged, "does not hold the rows"),
        ({"schema_version": 99}, StoreTooNew, "has schema 99"),
        ({"unknown": 1}, StoreDamaged, "is not the manifest of a backup"),
        (None, StoreDamaged, "is not the manifest of a backup"),
    ],
)
def test_a_manifest_that_does_not_fit_is_refused(store, tmp_path, change, error, sentence):
    report = backup(store, tmp_path)
    manifest = report.folder / "manifest.json"
    facts = json.loads(manifest.read_text())
    manifest.write_text("no json" if change is None else json.dumps(facts | change))
    with pytest.raises(error, match=sentence):
        restore(report.folder, tmp_path / "new.duckdb")
    assert not (tmp_path / "new.duckdb").exists()


def test_a_backup_that_cannot_be_written(store, tmp_path):
    (tmp_path / "a file").write_text("x")
    with pytest.raises(StoreError, match="backup could not be written"):
        backup(store, tmp_path / "a file")
