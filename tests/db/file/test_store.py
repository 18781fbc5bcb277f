from __future__ import annotations

import math
import os
import stat
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from signal import SIGKILL

import duckdb
import pytest

from db.errors import (
    BadInput,
    StoreBusy,
    StoreDamaged,
    StoreError,
    StoreMissing,
    StoreTooNew,
)
from db.file import connection, migrations
from db.file.held_store import Seen
from db.file.settings import get_setting, set_setting
from db.file.store import Store, default_path
from tests.db.conftest import dump
from tests.db.other_processes import write, write_and_die_in_the_next
from tests.forked import ended, started
from tests.held_store import held


@pytest.fixture
def store(closed_store):
    return closed_store


def test_default_path_is_the_named_file_or_one_in_the_user_data_folder(monkeypatch):
    monkeypatch.setenv("WARMCURVE_DB", "some/where.duckdb")
    assert default_path() == Path("some/where.duckdb")
    monkeypatch.delenv("WARMCURVE_DB")
    assert default_path().name == "warmcurve.duckdb"
    assert default_path().is_absolute()


def test_a_new_store_is_readable_by_its_owner_only(tmp_path):
    store = Store(tmp_path / "folder" / "store.duckdb")
    assert not store.exists()
    store.create()
    assert store.exists()
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(store.path.parent.stat().st_mode) == 0o700
    assert os.listdir(store.path.parent) == ["store.duckdb"]


def test_creating_again_changes_nothing(store):
    set_setting(store, "club_name", "Ours", "tester")
    before = store.path.read_bytes()
    store.create()
    assert store.path.read_bytes() == before
    assert get_setting(store, "club_name") == "Ours"


def test_reading_a_missing_store_does_not_make_it(tmp_path):
    store = Store(tmp_path / "none.duckdb")
    for work in (store.revision, lambda: get_setting(store, "club_name")):
        with pytest.raises(StoreMissing, match=r"no store at .*none\.duckdb"):
            work()
    assert not store.exists()


def test_a_write_is_one_audit_row_and_one_revision(store):
    before = store.revision()
    with store.writing("coach", "do something", "to A1") as cursor:
        cursor.execute("INSERT INTO setting VALUES ('a', '1'), ('b', '2')")
    assert store.revision() == before + 1
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT person, action, detail FROM audit WHERE revision = ?", [before + 1]
        ).fetchall()
    assert rows == [("coach", "do something", "to A1")]


def test_a_write_needs_a_person(store):
    with pytest.raises(BadInput, match="name of the person"), store.writing(" ", "do") as _:
        pass


@pytest.mark.parametrize("error", [ValueError("ours"), KeyboardInterrupt()])
def test_an_error_inside_a_write_leaves_nothing(store, error):
    before, revision = dump(store), store.revision()
    with pytest.raises(type(error)), store.writing("coach", "fail") as cursor:
        cursor.execute("INSERT INTO setting VALUES ('a', '1')")
        raise error
    assert dump(store) == before
    assert store.revision() == revision
    set_setting(store, "a", "2", "coach")
    assert get_setting(store, "a") == "2"


def test_a_constraint_that_fails_leaves_nothing(store):
    before = dump(store)
    with pytest.raises(duckdb.ConstraintException, match="CHECK"):
        with store.writing("coach", "fail") as cursor:
            cursor.execute("INSERT INTO setting VALUES ('a', '1')")
            cursor.execute("INSERT INTO setting VALUES ('', '1')")
    assert dump(store) == before


def test_a_write_fails_even_if_an_error_inside_it_was_suppressed(store):
    before = dump(store)
    with pytest.raises(StoreError, match="so nothing was saved"):
        with store.writing("coach", "pass over") as cursor:
            cursor.execute("INSERT INTO setting VALUES ('a', '1')")
            with suppress(duckdb.Error):
                cursor.execute("INSERT INTO no_such_table VALUES (1)")
    assert dump(store) == before


def test_reading_cannot_write(store):
    with pytest.raises(duckdb.Error, match="read-only"), store.reading() as cursor:
        cursor.execute("INSERT INTO setting VALUES ('a', '1')")


def test_reading_sees_one_state_while_another_thread_writes(store):
    with store.reading() as cursor:
        count = "SELECT count(*) FROM setting"
        before = cursor.execute(count).fetchone()
        with ThreadPoolExecutor(1) as pool:
            pool.submit(set_setting, store, "a", "1", "coach").result()
        assert cursor.execute(count).fetchone() == before
    assert get_setting(store, "a") == "1"


def test_a_unit_of_work_touches_no_other_file_and_no_settings(store):
    with store.reading() as cursor, pytest.raises(duckdb.PermissionException, match="disabled"):
        cursor.execute("SELECT * FROM read_csv('/etc/hosts')")
    with store.reading() as cursor, pytest.raises(duckdb.Error, match="locked"):
        cursor.execute("SET enable_external_access = true")


def test_the_file_is_free_after_each_unit_of_work(store):
    for _ in range(2):
        set_setting(store, "a", "1", "coach")
        with store.reading() as cursor, store.reading() as inner:
            assert cursor.execute("SELECT 1").fetchone() == inner.execute("SELECT 1").fetchone()
        with held(store.path):
            pass


@pytest.fixture
def openings(monkeypatch):
    """The paths that were opened, in order."""
    seen, connect = [], connection.connect

    def opened(path, *how):
        seen.append(path)
        return connect(path, *how)

    monkeypatch.setattr(connection, "connect", opened)
    return seen


def test_a_store_kept_open_is_opened_once_and_free_after(store, openings, monkeypatch):
    monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
    with store.kept_open():
        for number in range(3):
            set_setting(store, "a", str(number), "coach")
            assert get_setting(store, "a") == str(number)
    assert openings == [store.path]
    with held(store.path):
        pass


def test_a_store_that_two_keep_open_is_free_after_the_last(store, openings, monkeypatch):
    monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
    with store.kept_open():
        with store.kept_open():
            assert get_setting(store, "a") is None
        assert get_setting(store, "a") is None
    assert openings == [store.path]
    with held(store.path):
        pass


def test_a_store_kept_open_is_opened_again_after_an_error(store, openings, monkeypatch):
    monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
    with store.kept_open():
        with pytest.raises(ValueError, match="ours"), store.reading():
            raise ValueError("ours")
        assert get_setting(store, "a") is None
    assert len(openings) == 2


def test_a_store_kept_open_can_be_used_alone(store):
    with store.kept_open():
        set_setting(store, "a", "1", "coach")
        with store.alone() as root:
            value = root.execute("SELECT value FROM setting WHERE key = 'a'").fetchone()
            assert value == ("1",)
        set_setting(store, "a", "2", "coach")
    assert get_setting(store, "a") == "2"


def test_a_store_kept_open_and_used_without_end_gives_way_to_another_process(store):
    with store.kept_open():
        other = started(write, store.path, "other", 1)
        while other.is_alive():
            get_setting(store, "a")
        assert (other.exitcode, get_setting(store, "other_0")) == (0, "1")


@pytest.mark.parametrize("work", ["read", "write", "revision"])
def test_the_message_after_the_wait_names_the_process(store, work):
    hurried = Store(store.path, wait_seconds=0.3)
    do = {
        "read": lambda: get_setting(hurried, "a"),
        "write": lambda: set_setting(hurried, "a", "1", "coach"),
        "revision": hurried.revision,
    }[work]
    with held(store.path) as holder:
        with pytest.raises(StoreBusy, match=f"process {holder.pid}, .* within 0.3 seconds"):
            do()
    assert get_setting(store, "a") is None


def test_two_writes_of_one_process_take_turns(store):
    hurried = Store(store.path, wait_seconds=0.2)
    with store.writing("coach", "slow"):
        with ThreadPoolExecutor(1) as pool:
            with pytest.raises(StoreBusy, match="Another write"):
                pool.submit(set_setting, hurried, "a", "1", "coach").result()
        assert get_setting(hurried, "a") is None


def test_writers_and_readers_in_threads_lose_nothing(store):
    before = store.revision()

    def write(number: int) -> None:
        own = Store(store.path, wait_seconds=600)
        with own.writing(f"writer {number}", "add") as cursor:
            cursor.execute("INSERT INTO setting VALUES (?, 'x')", [f"key {number}"])
        with own.reading() as cursor:
            found = cursor.execute("SELECT value FROM setting WHERE key = ?", [f"key {number}"])
            assert found.fetchone() == ("x",)
        assert own.revision() > before

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(write, range(16)))
    assert store.revision() == before + 16
    with store.reading() as cursor:
        kept = "SELECT count(*) FROM setting WHERE key LIKE 'key %'"
        assert cursor.execute(kept).fetchone() == (16,)


def test_processes_and_threads_write_at_once(store):
    before = store.revision()
    others = [started(write, store.path, name, 4) for name in ("first", "second")]
    patient = Store(store.path, wait_seconds=600)
    with ThreadPoolExecutor(3) as pool:
        list(pool.map(lambda n: set_setting(patient, f"own {n}", "x", "coach"), range(8)))
    assert [ended(other) for other in others] == [0, 0]
    assert store.revision() == before + 16


def test_revision_is_remembered_until_the_file_changes(store, monkeypatch):
    first = store.revision()
    with monkeypatch.context() as patched:
        patched.setattr(duckdb, "connect", None)
        assert [store.revision() for _ in range(3)] == [first] * 3
        assert Store(store.path).revision() == first
    set_setting(store, "a", "1", "coach")
    assert store.revision() == first + 1


def test_revision_sees_what_another_process_wrote(store):
    first = store.revision()
    assert ended(started(write, store.path, "other", 1)) == 0
    assert store.revision() == first + 1


def test_a_write_drops_the_known_revision_even_if_the_file_looks_the_same(store, monkeypatch):
    monkeypatch.setattr(connection.SharedFile, "_stamp", lambda self: (None, None))
    first = store.revision()
    set_setting(store, "a", "1", "coach")
    assert store.revision() == first + 1


def test_a_revision_read_before_a_write_is_not_remembered_after_it(store, monkeypatch):
    monkeypatch.setattr(connection.SharedFile, "_stamp", lambda self: (None, None))
    read = connection.seen

    def read_and_let_another_write(cursor: duckdb.DuckDBPyConnection) -> Seen:
        state = read(cursor)
        monkeypatch.setattr(connection, "seen", read)
        with ThreadPoolExecutor(1) as pool:
            pool.submit(set_setting, store, "a", "1", "coach").result()
        return state

    monkeypatch.setattr(connection, "seen", read_and_let_another_write)
    first = store.revision()
    assert store.revision() == first + 1


def test_threads_see_the_revision_of_the_file(store):
    stop = threading.Event()
    seen: list[int] = []

    def look() -> None:
        while not stop.is_set():
            seen.append(store.revision())

    with ThreadPoolExecutor(2) as pool:
        looks = [pool.submit(look) for _ in range(2)]
        for number in range(8):
            set_setting(store, "a", str(number), "coach")
            written = _revision_in_the_file(store)
            assert store.revision() == written
        stop.set()
        for looked in looks:
            looked.result()
    assert max(seen) == _revision_in_the_file(store)


def _revision_in_the_file(store: Store) -> int:
    with store.reading() as cursor:
        row = cursor.execute("SELECT max(revision) FROM audit").fetchone()
    assert row is not None
    return int(row[0])


def test_committed_writes_survive_a_kill(store):
    before = store.revision()
    assert ended(started(write_and_die_in_the_next, store.path)) == -SIGKILL
    assert Path(f"{store.path}.wal").exists()
    assert store.revision() == before + 1
    assert get_setting(store, "kept") == "1" * 5000
    assert get_setting(store, "lost") is None


@pytest.mark.parametrize(
    "content", [b"", b"a text", b"not a database" * 5000], ids=["empty", "short", "long"]
)
def test_a_file_that_is_not_a_database_is_refused_and_left_alone(tmp_path, content):
    path = tmp_path / "store.duckdb"
    path.write_bytes(content)
    with pytest.raises(StoreDamaged, match=r"store\.duckdb cannot be read.*last backup"):
        Store(path).revision()
    assert path.read_bytes() == content


@pytest.mark.parametrize("place", [12, 4100, 12_288 + 500])
def test_a_damaged_file_is_refused_and_left_alone(store, place):
    content = bytearray(store.path.read_bytes())
    content[place] ^= 0xFF
    store.path.write_bytes(content)
    with pytest.raises(StoreDamaged, match=r"cannot be read as a store: .*[Cc]hecksum"):
        dump(store)
    assert store.path.read_bytes() == content


def test_a_file_cut_short_is_refused(store):
    content = store.path.read_bytes()
    store.path.write_bytes(content[: len(content) // 2])
    with pytest.raises(StoreDamaged, match="restore the last backup"):
        dump(store)


def test_a_damaged_log_is_refused_and_kept(store):
    assert ended(started(write_and_die_in_the_next, store.path)) == -SIGKILL
    log = Path(f"{store.path}.wal")
    content = bytearray(log.read_bytes())
    content[len(content) // 2] ^= 0xFF
    log.write_bytes(content)
    with pytest.raises(StoreDamaged, match=r"store\.duckdb\.wal beside it as they are"):
        store.revision()
    assert log.read_bytes() == content


def test_another_programs_database_is_refused(tmp_path):
    path = tmp_path / "other.duckdb"
    with duckdb.connect(path) as other:
        other.execute("CREATE TABLE thing (x INTEGER)")
    content = path.read_bytes()
    with pytest.raises(StoreDamaged, match="not a store of this program"):
        Store(path).revision()
    assert path.read_bytes() == content


def test_a_store_of_a_newer_program_is_refused(store):
    with duckdb.connect(store.path) as newer:
        newer.execute("INSERT INTO schema_version VALUES (99, '0099_later.sql', now())")
    with pytest.raises(StoreTooNew, match=f"schema 99 .* up to {migrations.newest()}"):
        store.revision()


def test_a_folder_in_place_of_the_file_is_reported(tmp_path):
    with pytest.raises(StoreError, match="cannot be opened: .*Is a directory"):
        Store(tmp_path).revision()


def test_a_path_where_no_store_can_be_is_reported(tmp_path):
    (tmp_path / "notes").write_text("no folder")
    store = Store(tmp_path / "notes" / "club" / "store.duckdb")
    with pytest.raises(StoreError, match="cannot be reached: .* Check the path and who may read"):
        store.create()


def test_readings_at_one_state_share_it_and_others_do_not(store):
    set_setting(store, "a", "before", "coach")
    own = Store(store.path)
    with own.at_one_state():
        with own.reading() as first, own.reading() as second:
            assert first is second
        assert get_setting(own, "a") == "before"
        set_setting(store, "a", "after", "coach")
        assert get_setting(own, "a") == "before"
        assert get_setting(store, "a") == "after"
    assert get_setting(own, "a") == "after"


def test_an_error_at_one_state_ends_it(store):
    own = Store(store.path)
    with pytest.raises(BadInput), own.at_one_state():
        raise BadInput("x")
    set_setting(store, "a", "1", "coach")
    assert get_setting(own, "a") == "1"
