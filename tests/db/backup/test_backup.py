from __future__ import annotations

import json
import os
import shutil
import stat
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from db.backup.copying import backup, restore
from db.efforts.rows import efforts
from db.errors import BadInput, StoreBusy, StoreDamaged, StoreError, StoreTooNew
from db.file import migrations
from db.file.checks import check
from db.file.copies import backups_in, keep_newest
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.fits.results import responses
from db.imports.past_imports import set_aside_rows
from db.imports.storing import import_efforts
from db.plans.lengths import plans
from tests.db.conftest import dump, effort_changes, table_of
from tests.db.file.test_migrations import schema_of


@pytest.fixture
def store(closed_store):
    rows = ["A1,2026-03-01T09:00,jump_height,1,40,0", "A9,2026-03-01T09:00,jump_height,1,40,0"]
    with closed_store.kept_open():
        import_efforts(closed_store, table_of(rows), "tester")
        yield closed_store


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
    files = ["data", "datapackage.json", "manifest.json", "warmcurve.duckdb"]
    assert sorted(os.listdir(report.folder)) == files
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


def damage(file: Path) -> None:
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)


def make_too_new(file: Path) -> None:
    """Write the storage version of a DuckDB far in the future."""
    content = bytearray(file.read_bytes())
    content[12:20] = (999_999).to_bytes(8, "little")
    file.write_bytes(content)


def test_the_parquet_files_hold_the_same_rows_and_describe_themselves(store, tmp_path):
    report = backup(store, tmp_path)
    package = json.loads((report.folder / "datapackage.json").read_text())
    assert {each["name"]: each["rows"] for each in package["resources"]} == report.rows
    for resource in package["resources"]:
        file = report.folder / resource["path"]
        assert not Path(resource["path"]).is_absolute()
        assert (file.stat().st_size, resource["format"]) == (resource["bytes"], "parquet")
        frame = pd.read_parquet(file)
        assert len(frame) == resource["rows"]
        assert list(frame.columns) == [field["name"] for field in resource["schema"]["fields"]]
        assert all(field["description"] for field in resource["schema"]["fields"])
    effort = next(each for each in package["resources"] if each["name"] == "effort")
    assert effort["schema"]["primaryKey"] == ["effort_id"]
    assert effort["schema"]["foreignKeys"] == [
        {"fields": ["session_id"], "reference": {"resource": "session", "fields": ["session_id"]}}
    ]


@pytest.mark.parametrize("harm", [damage, make_too_new, Path.unlink])
def test_the_parquet_files_restore_where_the_copy_does_not(store, tmp_path, harm):
    set_setting(store, "name", "an 'odd\nname", "coach")
    report = backup(store, tmp_path)
    harm(report.folder / "warmcurve.duckdb")
    restored = Store(tmp_path / "new" / "restored.duckdb")
    restore(report.folder, restored.path)
    assert dump(restored) == dump(store)
    assert schema_of(restored) == schema_of(store)
    assert check(restored) == []
    for both in (store, restored):
        import_efforts(both, table_of(["A2,2026-03-01T09:00,jump_height,1,40,0"]), "tester")
    assert [row[0] for row in dump(restored)["effort"]] == [row[0] for row in dump(store)["effort"]]


def test_a_backup_that_has_changed_everywhere_is_refused(store, tmp_path):
    report = backup(store, tmp_path)
    damage(report.folder / "warmcurve.duckdb")
    damage(report.folder / "data" / "effort.parquet")
    with pytest.raises(StoreDamaged, match="is not as it was made"):
        restore(report.folder, tmp_path / "new.duckdb")
    (report.folder / "warmcurve.duckdb").unlink()
    (report.folder / "datapackage.json").write_text("{}")
    with pytest.raises(StoreDamaged, match="is missing or has changed"):
        restore(report.folder, tmp_path / "new.duckdb")
    assert not (tmp_path / "new.duckdb").exists()


def test_the_oldest_backup_is_restored_and_upgraded(tmp_path):
    """The file was made by the first version that wrote backups, and must never change."""
    shutil.unpack_archive(Path(__file__).parents[1] / "data" / "backup_schema_1.zip", tmp_path)
    (folder,) = tmp_path.glob("warmcurve-*")
    restored = Store(tmp_path / "new.duckdb")
    report = restore(folder, restored.path)
    assert (report.schema_version, report.rows["effort"]) == (1, 37)
    jumps = efforts(restored, "jump_height")
    assert len(jumps) == 36 and set(jumps["athlete"]) == {"A1", "A2"}
    assert jumps["value"][0] == 39.5 and jumps["excluded"].tolist()[1] == "slipped"
    assert len(effort_changes(restored, 2)) == 1
    assert len(set_aside_rows(restored)) == 1
    assert len(responses(restored, "jump_height")) == 2
    assert plans(restored, date(2026, 3, 1), "jump_height")["reason"].tolist() == ["feels slow"]
    assert get_setting(restored, "club_name") == "Test Club"
    assert check(restored) == []


PASSPHRASE = "plain words for a test"


def test_an_encrypted_backup_opens_with_its_passphrase_only(store, tmp_path):
    report = backup(store, tmp_path / "backups", PASSPHRASE)
    assert os.listdir(tmp_path / "backups") == [report.folder.name]
    assert report.folder.name.endswith(".tar.age")
    assert stat.S_IMODE(report.folder.stat().st_mode) == 0o600
    sealed = report.folder.read_bytes()
    assert b"jump_height" not in sealed and b"schema" not in sealed
    assert b"jump_height" in store.path.read_bytes()
    with pytest.raises(BadInput, match="is encrypted. Give its passphrase"):
        restore(report.folder, tmp_path / "new.duckdb")
    with pytest.raises(BadInput, match="does not open with this passphrase"):
        restore(report.folder, tmp_path / "new.duckdb", PASSPHRASE + "!")
    assert not (tmp_path / "new.duckdb").exists()
    restored = Store(tmp_path / "new.duckdb")
    assert restore(report.folder, restored.path, PASSPHRASE) == report
    assert dump(restored) == dump(store)
    assert [name for name in os.listdir(tmp_path) if name.startswith(".")] == []


def test_a_short_passphrase_is_refused(store, tmp_path):
    with pytest.raises(BadInput, match="too short. Take at least 12"):
        backup(store, tmp_path / "backups", "short")
    assert not (tmp_path / "backups").exists()


def test_the_newest_backups_are_kept(store, tmp_path):
    names = [backup(store, tmp_path).folder for _ in range(3)]
    (tmp_path / "warmcurve-notes").mkdir()
    assert [path for _, path in backups_in(tmp_path)] == names[::-1]
    keep_newest(tmp_path, 2)
    assert sorted(tmp_path.glob("warmcurve-*")) == sorted(
        [*names[1:], tmp_path / "warmcurve-notes"]
    )


@pytest.mark.parametrize(
    ("change", "error", "sentence"),
    [
        ({"rows": {"effort": 2}}, StoreDamaged, "does not hold the rows"),
        ({"schema_version": 99}, StoreTooNew, "has schema 99"),
        ({"unknown": 1}, StoreDamaged, "does not describe a backup: see unknown"),
        (None, StoreDamaged, "does not describe a backup"),
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
