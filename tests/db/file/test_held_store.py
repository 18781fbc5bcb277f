"""While a store is served, any other file in its place is refused."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from db.backup.copying import backup, restore
from db.errors import StoreError, StoreReplaced
from db.file import connection, migrations
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.people.accounts import Person, add_person
from db.privacy import retention
from db.privacy.erasing import erase_athlete
from db.roster.athletes import list_athletes, save_athletes


@pytest.fixture
def held(tmp_path: Path) -> Store:
    """A store with an account and two athletes, which this process holds."""
    store = Store(tmp_path / "served" / "store.duckdb")
    store.create()
    add_person(store, Person("dora", "Dora", "director"), "a hash", "test")
    save_athletes(store, pd.DataFrame({"athlete": ["A1", "A2"]}), "test")
    store.hold()
    return store


def put(file: Path, store: Store) -> None:
    """Put a copy of another file in the place of a store, as a move on the disk does."""
    shutil.copy(file, f"{store.path}.new")
    os.replace(f"{store.path}.new", store.path)


def fresh(folder: Path) -> Path:
    store = Store(folder / "fresh.duckdb")
    store.create()
    return store.path


def empty(folder: Path) -> Path:
    path = folder / "empty.duckdb"
    duckdb.connect(path).close()
    return path


def earlier_schema(folder: Path) -> Path:
    path = folder / "earlier.duckdb"
    with duckdb.connect(path) as root:
        migrations.build(root, 19)
    return path


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (fresh, "It is another store."),
        (empty, "It is an older copy, or another store."),
        (earlier_schema, "It is an older copy, or another store."),
    ],
)
def test_another_store_in_its_place_is_refused_until_the_right_one_is_back(
    held: Store, tmp_path: Path, other: Callable[[Path], Path], why: str
) -> None:
    right = shutil.copy(held.path, tmp_path / "right.duckdb")
    wrong = other(tmp_path)
    put(wrong, held)
    for use in (
        held.revision,
        lambda: get_setting(held, "x"),
        lambda: set_setting(held, "x", "1", "t"),
    ):
        with pytest.raises(StoreReplaced, match=why) as refused:
            use()
        assert "stop the dashboard and start it again" in refused.value.message
    held.create()
    with pytest.raises(StoreReplaced):
        held.revision()
    put(right, held)
    assert list_athletes(held)["athlete"].tolist() == ["A1", "A2"]


def test_a_missing_file_is_reported_and_none_is_made_instead(held: Store, tmp_path: Path) -> None:
    away = held.path.rename(tmp_path / "away.duckdb")
    for use in (held.revision, lambda: list_athletes(held), held.create):
        with pytest.raises(StoreReplaced, match="is gone, and no new one was made"):
            use()
    assert not held.path.exists()
    away.rename(held.path)
    assert len(list_athletes(held)) == 2


def test_an_older_copy_and_a_copy_with_its_own_history_are_refused(
    held: Store, tmp_path: Path
) -> None:
    copy = Path(shutil.copy(held.path, tmp_path / "copy.duckdb"))
    set_setting(held, "club_name", "Ours", "test")
    right = shutil.copy(held.path, tmp_path / "right.duckdb")
    put(copy, held)
    with pytest.raises(StoreReplaced, match="It is an older copy of it."):
        get_setting(held, "club_name")
    for value in ("a", "b", "c"):
        set_setting(Store(copy), "club_name", value, "another")
    put(copy, held)
    with pytest.raises(StoreReplaced, match="a copy of it that others have written to"):
        get_setting(held, "club_name")
    put(right, held)
    assert get_setting(held, "club_name") == "Ours"


def test_a_store_whose_accounts_are_gone_is_refused(held: Store) -> None:
    with duckdb.connect(held.path) as root:
        root.execute("DELETE FROM person")
    with pytest.raises(StoreReplaced, match="Its accounts are gone."):
        held.revision()


def test_a_backup_restored_in_its_place_is_served_after_a_restart(
    held: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = backup(held, tmp_path / "backups").folder
    set_setting(held, "club_name", "Ours", "test")
    held.path.unlink()
    restore(made, held.path)
    with pytest.raises(StoreReplaced, match="It is an older copy of it."):
        list_athletes(held)
    monkeypatch.setattr(connection, "_files", {})  # what a new process begins with
    again = Store(held.path)
    again.hold()
    assert len(list_athletes(again)) == 2


def test_other_processes_may_go_on_changing_the_store(
    held: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A setting, an erasure and a retention by other processes: more history, or a new file."""
    other = connection.SharedFile(held.path)
    own, held._file = held._file, other
    set_setting(held, "club_name", "Ours", "another process")
    erase_athlete(held, "A1", "another process")
    days = dict.fromkeys(retention.KINDS) | {"audit": -1}
    monkeypatch.setattr(retention, "kept_days", lambda _: days)
    assert retention.apply_retention(held, "another process")["audit"] > 3
    held._file = own
    assert list_athletes(held)["athlete"].tolist() == ["A2"]
    set_setting(held, "club_name", "Still ours", "test")


@pytest.mark.parametrize("gone", [True, False])
def test_a_write_fails_if_the_file_is_removed_or_replaced_meanwhile(
    held: Store, tmp_path: Path, gone: bool
) -> None:
    other = fresh(tmp_path)
    with pytest.raises(StoreReplaced, match="Nothing of this was stored"):
        with held.writing("test", "write") as cursor:
            cursor.execute("INSERT INTO setting VALUES ('x', '1')")
            held.path.unlink() if gone else put(other, held)


def test_a_file_that_was_replaced_is_not_read_any_more(held: Store, tmp_path: Path) -> None:
    other = fresh(tmp_path)
    with held.kept_open():
        assert len(list_athletes(held)) == 2
        put(other, held)
        with pytest.raises(StoreError, match="It is another store."):
            list_athletes(held)
