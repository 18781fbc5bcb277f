"""A store whose process is killed, whose disk is full, or that is read-only."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from db.file.checks import check
from db.file.store import Store
from tests.benchmarks import crash
from tests.db.conftest import dump

NOBODY = 65534
IMPORT = """
import sys
from db.imports.storing import import_efforts
from db.imports.effort_files import read_table
from db.errors import StoreError
from db.backup.copying import backup
from db.file.store import Store
import os, resource
header = "athlete,started_at,measure,effort,value,volume_before,note"
starts = [f"2020-01-01T09:{n // 60:02}:{n % 60:02}" for n in range(3000)]
rows = [f"A1,{start},jump_height,1,40,0,{start * 20}" for start in starts]
table = read_table("\\n".join([header, *rows]).encode(), "long.csv")
store, to = Store(sys.argv[1]), sys.argv[2]
"""
END = """
try:
    backup(store, to) if to else import_efforts(store, table, "tester")
except StoreError as error:
    print(error.message)
else:
    print("stored")
"""
FULL = """
room = int(sys.argv[3])
resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
"""
OTHER_USER = f"""
if os.geteuid() == 0:
    os.seteuid({NOBODY})  # nothing is read-only to root
"""


@pytest.mark.parametrize("kind", list(crash.KINDS))
def test_nothing_is_lost_when_the_process_is_killed(tmp_path, monkeypatch, kind):
    monkeypatch.setattr(crash, "LONGEST_SECONDS", {})
    monkeypatch.setattr(crash, "LONGEST_SECONDS_ELSE", 0.6)
    tally = crash.crash(kind, 2, tmp_path, random.Random(kind))
    assert (tally.kills, tally.bad) == (2, 0)


def test_a_write_that_vanished_would_be_found(tmp_path):
    crash._prepare(tmp_path)
    look = crash.KINDS["imports"][1]
    assert look(tmp_path, [(1,)]) == crash.Found()
    assert look(tmp_path, [(1,), (2,)]) == crash.Found(lost=1)
    with Store(tmp_path / "store.duckdb").writing("tester", "break") as cursor:
        cursor.execute("DELETE FROM effort WHERE effort_id = 5")
    assert look(tmp_path, []) == crash.Found(halves=1)


def run(script: str, *words: object) -> str:
    done = subprocess.run(
        [sys.executable, "-c", IMPORT + script + END, *map(str, words)],
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def test_a_full_disk_is_reported_and_the_store_stays_as_it_was(closed_store):
    before = dump(closed_store)
    said = run(FULL, closed_store.path, "", 200_000)
    assert f"The store {closed_store.path} could not be written" in said
    assert "Nothing of this was stored. Make room on the disk and try again." in said
    assert dump(closed_store) == before
    assert check(closed_store) == []
    assert run("", closed_store.path, "") == "stored"


def test_a_backup_to_a_full_disk_says_so_and_leaves_nothing(closed_store, tmp_path):
    before = dump(closed_store)
    said = run(FULL, closed_store.path, tmp_path / "backups", 1_000_000)
    assert f"The backup could not be written to {tmp_path / 'backups'}" in said
    assert "the store is as it was. Make room there, or name another folder." in said
    assert os.listdir(tmp_path / "backups") == []
    after = dump(closed_store)
    noted = set(after.pop("setting")) - set(before.pop("setting"))
    assert noted == {(f"backup folder {tmp_path / 'backups'}", "")} and after == before


@pytest.fixture
def anybodys_folder() -> Iterator[Path]:
    """A folder that another user can enter, unlike those of pytest."""
    with TemporaryDirectory() as folder:
        yield Path(folder)
        os.chmod(folder, 0o700)


@pytest.mark.parametrize("file_too", [False, True], ids=["folder", "folder and file"])
def test_a_read_only_folder_is_reported_and_the_store_stays_as_it_was(
    closed_store, anybodys_folder, file_too
):
    store = Store(anybodys_folder / "store.duckdb")
    store.path.write_bytes(closed_store.path.read_bytes())
    before = store.path.read_bytes()
    store.path.chmod(0o444 if file_too else 0o666)
    anybodys_folder.chmod(0o555)
    said = run(OTHER_USER, store.path, "")
    assert f"The store {store.path} c" in said and "Permission denied" in said
    assert "who may read and write it" in said and "Traceback" not in said
    anybodys_folder.chmod(0o700)
    assert store.path.read_bytes() == before
    assert check(store) == []


def test_a_backup_to_a_read_only_folder_says_so(closed_store, anybodys_folder):
    store = Store(anybodys_folder / "stores" / "store.duckdb")
    store.path.parent.mkdir(mode=0o777)
    store.path.parent.chmod(0o777)
    store.path.write_bytes(closed_store.path.read_bytes())
    store.path.chmod(0o666)
    anybodys_folder.chmod(0o555)
    said = run(OTHER_USER, store.path, anybodys_folder / "backups")
    assert "The backup could not be written to" in said and "Permission denied" in said


def test_a_schema_change_that_is_only_in_the_log_is_replayed(tmp_path):
    """The log of a schema change names functions that DuckDB lacks when it starts."""
    crash._prepare(tmp_path)
    script = (
        "import os, signal, sys, duckdb\nfrom db.file import migrations\n"
        "from db.file.opening import SETTINGS\n"
        "root = duckdb.connect(sys.argv[1], config=SETTINGS)\n"
        "reached = migrations.version(root, sys.argv[1])\n"
        "migrations._apply(root, migrations.schema_files()[reached])\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    path = tmp_path / "first.duckdb"
    ended = subprocess.run([sys.executable, "-c", script, path])
    assert ended.returncode == -9
    assert Path(f"{path}.wal").exists()
    assert crash._rows(path) == crash._rows(tmp_path / "newest.duckdb")
    assert check(Store(path)) == []
