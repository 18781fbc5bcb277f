"""Copies of a store: nothing unfinished outlives the next start, backup or erasing."""

from __future__ import annotations

import os
import shutil
import stat
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from db.backup.copying import backup
from db.file import migrations
from db.file.checks import check
from db.file.copies import (
    backup_folders,
    backups_in,
    finished_copies,
    leftovers,
    remove_leftovers,
    unfinished_copies,
)
from db.file.store import Store
from db.file.unfinished import PREFIX, abandoned, remove_abandoned, unfinished
from db.privacy.erasing import erase_athlete
from tests.db import kills

NOBODY = 65534

COPYING = ("after db.file.migrations.copy_store", "after db.backup.data_package._resource")
WRITTEN = ("after db.backup.copying.write_package", "after db.backup.copying.verify_package")
STEPS = [
    *(("backup", step) for step in (*COPYING, *WRITTEN)),
    *(("encrypted backup", step) for step in (*WRITTEN, "after db.backup.copying.encrypt")),
    ("encrypted backup", "after db.backup.copying.decrypt"),
    ("bringing up", COPYING[0]),
    ("rewrite", "after db.file.rewriting._copy_table"),
    ("rewrite", "before db.file.rewriting._replace"),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "backups"


@pytest.mark.parametrize(("work", "step"), STEPS, ids=lambda text: text.rpartition(".")[2])
def test_leftovers_of_a_kill_are_private_and_removed_next_time(
    closed_store: Store, folder: Path, work: str, step: str
) -> None:
    if work == "bringing up":
        _later_schema(folder)
    kills.killed(work, step, closed_store.path, folder)
    left = leftovers(closed_store)
    assert left and all(stat.S_IMODE(part.stat().st_mode) == 0o700 for part in left)
    beside = [path for path in left if path.parent == closed_store.path.parent]
    assert bool(beside) == (work != "backup")
    if work == "encrypted backup":
        files = [path for path in folder.rglob("*") if path.is_file()]
        assert not any(b"jump_height" in path.read_bytes() for path in files)
    remove_leftovers(closed_store)
    assert leftovers(closed_store) == []
    assert [path for path in folder.parent.rglob("*") if path.name.startswith(".")] == []
    assert backups_in(folder) == []


def _later_schema(folder: Path) -> None:
    shutil.copytree(migrations.SCHEMA_FOLDER, folder)
    later = migrations.newest() + 1
    (folder / f"{later:04d}_badges.sql").write_text("CREATE TABLE badge (name VARCHAR)")


def test_files_of_a_copy_are_private_from_the_first_byte(closed_store: Store, folder: Path) -> None:
    kills.killed("backup", "after db.backup.data_package._resource", closed_store.path, folder)
    (part,) = leftovers(closed_store)
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in part.rglob("*")}
    assert modes.pop("data") == 0o700
    (name,) = [name for name in modes if name.startswith("warmcurve-")]
    assert modes.pop(name) == 0o700
    assert len(modes) > 2 and set(modes.values()) == {0o600}


def test_erasing_removes_what_a_killed_backup_left(closed_store: Store, folder: Path) -> None:
    with closed_store.writing("dora", "name") as cursor:
        cursor.execute("UPDATE athlete SET name = 'Åsa Vintergren' WHERE athlete = 'A1'")
    kills.killed("backup", "after db.backup.copying.write_package", closed_store.path, folder)
    assert _naming(folder.parent, "Vintergren")
    (problem,) = check(closed_store)
    assert str(leftovers(closed_store)[0]) in problem and "The next backup or start" in problem
    erase_athlete(closed_store, "A1", "dora")
    assert _naming(folder.parent, "Vintergren") == []
    assert check(closed_store) == []


def _naming(folder: Path, name: str) -> list[Path]:
    files = [path for path in folder.rglob("*") if path.is_file()]
    return [path for path in files if name.encode() in path.read_bytes()]


def test_the_next_backup_removes_what_another_left_elsewhere(
    closed_store: Store, folder: Path, tmp_path: Path
) -> None:
    kills.killed("backup", "after db.file.migrations.copy_store", closed_store.path, folder)
    made = backup(closed_store, tmp_path / "elsewhere").folder
    assert os.listdir(folder) == [] and leftovers(closed_store) == []
    assert backup_folders(closed_store) == [folder, tmp_path / "elsewhere"]
    assert finished_copies(closed_store) == [made]


def test_a_copy_that_another_process_is_writing_stays(closed_store: Store, folder: Path) -> None:
    step = "after db.backup.copying.write_package"
    with kills.stopped("backup", step, closed_store.path, folder):
        remove_leftovers(closed_store)
        assert leftovers(closed_store) == []
        (part,) = unfinished_copies(closed_store)
        assert len(list(part.rglob("*.parquet"))) > 50
    assert leftovers(closed_store) == [part]
    remove_leftovers(closed_store)
    assert unfinished_copies(closed_store) == []


def test_a_copy_that_this_process_is_writing_stays(closed_store: Store) -> None:
    with unfinished(closed_store.path.parent) as part:
        remove_leftovers(closed_store)
        with unfinished(closed_store.path.parent) as other:
            assert part.is_dir() and other.is_dir()
        assert unfinished_copies(closed_store) == [part]
    assert unfinished_copies(closed_store) == []


def test_a_half_removed_old_backup_is_not_listed(closed_store: Store, folder: Path) -> None:
    backup(closed_store, folder)
    kills.killed("keeping the newest", "before shutil.rmtree", closed_store.path, folder)
    assert backups_in(folder) == [] and len(leftovers(closed_store)) == 1
    remove_leftovers(closed_store)
    assert os.listdir(folder) == []


def test_a_killed_restore_leaves_nothing_for_long(closed_store: Store, folder: Path) -> None:
    kills.done("encrypted backup", closed_store.path, folder)
    kills.killed("restore", "after db.backup.copying._opened", closed_store.path, folder)
    (part,) = leftovers(closed_store)
    assert (part / "unpacked").is_dir() and part.parent == closed_store.path.parent
    kills.done("restore", closed_store.path, folder)
    assert not part.exists()


def test_a_killed_export_leaves_nothing_for_long(closed_store: Store, folder: Path) -> None:
    folder.mkdir()
    kills.killed("export", "before os.replace", closed_store.path, folder)
    (part,) = folder.iterdir()
    assert b"A1" in (part / "file").read_bytes()
    kills.done("export", closed_store.path, folder)
    assert os.listdir(folder) == ["athletes.csv"]


def test_files_of_others_are_never_removed(closed_store: Store, tmp_path: Path) -> None:
    place = closed_store.path.parent
    with_notes, aside = place / f"{PREFIX}abcd1234", tmp_path / "elsewhere"
    with_notes.mkdir()
    (with_notes / "notes.txt").write_text("mine")
    (place / f"{PREFIX}notes").mkdir()
    aside.mkdir()
    (aside / "store.duckdb").write_text("mine")
    (place / f"{PREFIX}link5678").symlink_to(aside)
    spilled = Path(f"{closed_store.path}.tmp")
    spilled.mkdir()
    (spilled / "mine.txt").write_text("mine")
    before = sorted(place.rglob("*"))
    remove_leftovers(closed_store)
    assert sorted(path for path in place.rglob("*") if path.name != "in-use") == before
    assert leftovers(closed_store) == [with_notes]


def test_leftovers_of_earlier_versions_and_the_database_go_too(closed_store: Store) -> None:
    path = closed_store.path
    left = [
        path.with_name(f".{path.name}.rewritten"),
        path.with_name(f".{path.name}.rewritten.wal"),
        path.with_name(f".{path.stem}.schema-3.20260101T000000.000000Z.duckdb.part"),
        Path(f"{path}.tmp") / "duckdb_temp_1_0_storage_DEFAULT-0.tmp",
    ]
    left[-1].parent.mkdir()
    for file in left:
        file.write_text("rows of athletes")
    assert sorted(leftovers(closed_store)) == sorted(left)
    remove_leftovers(closed_store)
    assert os.listdir(path.parent) == ["store.duckdb"]


def test_a_leftover_that_cannot_be_removed_is_listed() -> None:
    """Use a folder that other users can enter, unlike those of pytest."""
    with TemporaryDirectory() as folder:
        part = Path(folder) / f"{PREFIX}abcd1234"
        part.mkdir(mode=0o700)
        (part / "store.duckdb").write_text("rows of athletes")
        root = os.geteuid() == 0
        if root:  # nothing is read-only to root
            for path in (part, part / "store.duckdb"):
                os.chown(path, NOBODY, NOBODY)
        os.chmod(folder, 0o555)
        try:
            os.seteuid(NOBODY if root else os.geteuid())
            remove_abandoned(Path(folder))
            assert abandoned(Path(folder)) == [part]
            assert list(part.iterdir()) == []
        finally:
            os.seteuid(0 if root else os.geteuid())
            os.chmod(folder, 0o700)
