from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person, close_web_session, open_web_session
from db.privacy.retention import NOT_KEPT, SOMEBODY, apply_retention, due, keep_for, kept_days
from tests.db.conftest import dump, table_of


@pytest.fixture
def aged(closed_store: Store) -> Iterator[Store]:
    """A store with sessions, rows set aside and sign-ins of different ages."""
    with closed_store.kept_open():
        _fill_with_age(closed_store)
        yield closed_store


def _fill_with_age(store: Store) -> None:
    this_year = datetime.now(UTC).replace(tzinfo=None) - timedelta(days=30)
    rows = [
        "A1,2020-03-01T09:00,jump_height,1,40,0",
        "A1,2020-03-01T09:00,jump_height,2,41,1",
        f"A1,{this_year:%Y-%m-%d}T09:00,jump_height,1,42,0",
        "A1,2020-03-02T09:00,jump_height,1,900,0",
    ]
    import_efforts(store, table_of(rows), "carl")
    add_person(store, Person("carl", "Carl", "coach"), "hash", by="test")
    for token in "ab":
        open_web_session(store, "carl", token * 64, datetime.now(UTC) + timedelta(days=1))
    close_web_session(store, "a" * 64)
    with store.writing("test", "make older") as cursor:
        for table, column in (("import_batch", "imported_at"), ("audit", "happened_at")):
            cursor.execute(f"UPDATE {table} SET {column} = {column} - INTERVAL 400 DAY")
        cursor.execute("UPDATE web_session SET closed_at = closed_at - INTERVAL 100 DAY")


def test_what_is_kept_by_default(aged: Store) -> None:
    assert kept_days(aged) == {
        "sessions": None,
        "set-aside": 365,
        "audit": None,
        "web-sessions": 90,
    }
    assert due(aged) == {"sessions": 0, "set-aside": 1, "audit": 0, "web-sessions": 1}


def test_what_other_periods_would_remove_is_shown_but_not_removed(aged: Store) -> None:
    before = dump(aged)
    writes = len(before["audit"])
    counts = due(aged, {"sessions": 730, "audit": 399, "set-aside": None})
    assert counts == {"sessions": 1, "set-aside": 0, "audit": writes, "web-sessions": 1}
    assert dump(aged) == before


def test_the_text_of_rows_set_aside_is_removed_but_their_count_stays(aged: Store) -> None:
    removed = apply_retention(aged, "dora")
    assert removed == {"sessions": 0, "set-aside": 1, "audit": 0, "web-sessions": 1}
    [row] = dump(aged)["set_aside_row"]
    assert NOT_KEPT in row and "900" not in "".join(map(str, row))
    [batch] = dump(aged)["import_batch"]
    assert batch[5:] == (4, 3, 0, 1)
    assert len(dump(aged)["web_session"]) == 1
    assert check(aged) == []
    assert b"jump_height,1,900" not in aged.path.read_bytes()


def test_old_sessions_go_with_their_efforts(aged: Store) -> None:
    keep_for(aged, "sessions", 730, "dora")
    apply_retention(aged, "dora")
    assert efforts(aged, "jump_height")["value"].tolist() == [42.0]
    [batch] = dump(aged)["import_batch"]
    assert batch[5:] == (2, 1, 0, 1)
    assert check(aged) == []


def test_the_trail_keeps_its_numbers_without_the_names(aged: Store) -> None:
    writes = len(dump(aged)["audit"])
    keep_for(aged, "audit", 90, "dora")
    apply_retention(aged, "dora")
    rows = sorted(dump(aged)["audit"])
    assert [row[0] for row in rows] == list(range(1, writes + 3))
    assert {row[2] for row in rows[:writes]} == {SOMEBODY}
    assert [row[3] for row in rows[-2:]] == ["set setting", "apply retention"]
    assert rows[-1][4] == f"1 set-aside, {writes} audit, 1 web-sessions"
    assert check(aged) == []


def test_nothing_is_written_when_nothing_is_due(aged: Store) -> None:
    apply_retention(aged, "dora")
    before = dump(aged)
    inode = aged.path.stat().st_ino
    assert not any(apply_retention(aged, "dora").values())
    assert dump(aged) == before and aged.path.stat().st_ino == inode


def test_periods_that_are_too_short_are_refused(aged: Store) -> None:
    with pytest.raises(BadInput, match="sessions must be kept for at least 365 days, not 3"):
        keep_for(aged, "sessions", 3, "dora")
    with pytest.raises(BadInput, match="There is no kind 'names'"):
        keep_for(aged, "names", 3, "dora")
    keep_for(aged, "set-aside", None, "dora")
    assert kept_days(aged)["set-aside"] is None and due(aged)["set-aside"] == 0
