"""A store is rewritten completely or not at all, even beside other processes."""

from __future__ import annotations

import os
import shutil
import threading
from pathlib import Path

import duckdb
import pytest

from db.errors import StoreError
from db.file import opening, rewriting
from db.file.rewriting import Rewrite, rewrite
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from tests.db.conftest import dump
from tests.db.other_processes import write
from tests.forked import ended, started

NOTHING = Rewrite("write anew", "", {})


def test_all_rows_and_sequences_stay(closed_store: Store) -> None:
    before = dump(closed_store)
    rewrite(closed_store, "dora", lambda root: NOTHING)
    after = dump(closed_store)
    *earlier, (_, _, person, action, _) = sorted(after.pop("audit"))
    assert (person, action) == ("dora", "write anew")
    assert earlier == sorted(before.pop("audit"))
    assert after == before


@pytest.mark.parametrize("step", ["_copy_table", "_replace"])
def test_a_failure_changes_nothing(
    closed_store: Store, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    before = dump(closed_store)

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(rewriting, step, fail)
    with pytest.raises(StoreError, match="rewritten: No space left on device. Nothing was"):
        rewrite(closed_store, "dora", lambda root: NOTHING)
    assert dump(closed_store) == before
    assert [path.name for path in closed_store.path.parent.iterdir()] == ["store.duckdb"]


def test_a_row_that_would_be_lost_stops_the_rewrite(
    closed_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = iter(range(1000))
    monkeypatch.setattr(rewriting, "fetch_number", lambda *_: next(numbers))
    with pytest.raises(StoreError, match="could not be rewritten: rows are missing"):
        rewrite(closed_store, "dora", lambda root: NOTHING)


@pytest.mark.parametrize("emptied", [False, True])
def test_a_file_replaced_while_it_is_opened_is_opened_again(
    closed_store: Store, monkeypatch: pytest.MonkeyPatch, emptied: bool
) -> None:
    """Even where the file in its place cannot be read, or has the first one's inode number."""
    path = closed_store.path
    before, between = path.with_name("before"), path.with_name("between")
    os.link(path, before)
    shutil.copy(path, between)
    opened = opening.OpenFile

    def replaced_twice(file: Path, external_access: bool) -> opening.OpenFile:
        if not between.exists():
            return opened(file, external_access)
        os.replace(between, path)
        if emptied:
            raise duckdb.IOException("Could not read enough bytes from file")
        root = opened(file, external_access)
        os.replace(before, path)
        return root

    monkeypatch.setattr(opening, "OpenFile", replaced_twice)
    set_setting(closed_store, "seen", "1", "dora")
    assert get_setting(closed_store, "seen") == "1"


def test_the_old_file_is_left_empty_for_processes_that_wait_for_it(closed_store: Store) -> None:
    with closed_store.path.open("rb") as old:
        rewrite(closed_store, "dora", lambda root: NOTHING)
        assert os.fstat(old.fileno()).st_size == 0


def test_writes_of_other_processes_and_threads_are_never_lost(closed_store: Store) -> None:
    path = closed_store.path
    writers = [started(write, path, name, 15) for name in ("first", "second")]
    store = Store(path, 60)
    thread = threading.Thread(target=write, args=(path, "here", 15))
    thread.start()
    for _ in range(5):
        rewrite(store, "dora", lambda root: NOTHING)
    thread.join()
    assert [ended(writer) for writer in writers] == [0, 0]
    for name in ("first", "second", "here"):
        assert [get_setting(store, f"{name}_{number}") for number in range(15)] == ["1"] * 15
    with duckdb.connect(path) as root:
        assert root.execute("SELECT max(revision) = count(*) FROM audit").fetchone() == (True,)
