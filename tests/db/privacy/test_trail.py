from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import duckdb
import pytest

import dashboard
import db
from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.rows import efforts
from db.efforts.trail import effort_trail, imports_of, take_back_change
from db.errors import BadInput
from db.file.settings import set_setting
from db.plans.lengths import PlanEntry, choices, plans, save_choice, take_back_choice
from db.plans.outcomes import outcome_changes, record_outcome
from db.privacy.trail import trail, trail_choices, trail_length
from tests.db.conftest import effort_changes

SOURCES = [
    path
    for package in (db, dashboard)
    for folder in package.__path__
    for path in sorted(Path(folder).rglob("*"))
    if path.suffix in (".py", ".sql")
]
DAY = date(2026, 3, 7)


def test_only_one_function_writes_to_the_audit():
    writes = re.compile(r"INSERT\s+INTO\s+(audit|\{audit\})", re.IGNORECASE)
    found = [path.name for path in SOURCES if writes.search(path.read_text(encoding="utf-8"))]
    # The schema change that alters what people may see adds its own line.
    assert found == ["0020_sees_all.sql", "transactions.py"]
    calls = [path.name for path in SOURCES if "record_write(" in path.read_text(encoding="utf-8")]
    assert sorted(calls) == ["rewriting.py", "store.py", "transactions.py"]


def test_no_statement_changes_or_removes_a_line_of_the_audit():
    changes = re.compile(
        r'(UPDATE|DELETE\s+FROM|TRUNCATE|DROP\s+TABLE|ALTER\s+TABLE)\s+"?audit\b', re.IGNORECASE
    )
    assert [path.name for path in SOURCES if changes.search(path.read_text(encoding="utf-8"))] == []
    # A rewritten file may differ: only erasing, retention and merging decide what it holds.
    deciders = [path.name for path in SOURCES if "import Rewrite" in path.read_text("utf-8")]
    assert sorted(deciders) == ["erasing.py", "merging.py", "retention.py"]


def test_a_reading_cursor_cannot_write_to_the_audit(store):
    with pytest.raises(duckdb.TransactionException, match="read-only"), store.reading() as cursor:
        cursor.execute("UPDATE audit SET person = 'nobody'")


def test_the_trail_is_read_by_person_and_kind(store):
    set_setting(store, "club_name", "Test", "dora")
    set_setting(store, "club_name", "Other", "carl")
    assert trail(store)["person"].tolist()[:2] == ["carl", "dora"]
    assert trail(store, people=["dora"])["detail"].tolist() == ["club_name"]
    assert trail(store, actions=["set setting"], limit=1)["person"].tolist() == ["carl"]
    assert trail_length(store, actions=["set setting"]) == 2
    assert trail_length(store) == store.revision()
    assert {"carl", "dora"} <= set(trail_choices(store, "person"))
    assert "set setting" in trail_choices(store, "action")


@pytest.fixture
def effort_id(store, bring):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0", "A2,2026-03-01T09:00,jump_height,1,39,0")
    return int(efforts(store, "jump_height", "A1")["effort_id"].iloc[0])


def test_changes_are_taken_back_newest_first_by_new_ones(store, effort_id):
    correct_effort(store, effort_id, 41, "misread", "carl")
    exclude_effort(store, effort_id, "slipped", "dora")
    told = effort_trail(store, "A1")
    assert told["reason"].tolist() == ["slipped", "misread"]
    assert told["last"].tolist() == [True, False]
    newest, oldest = told["change_id"].tolist()
    with pytest.raises(BadInput, match="changed again since. Take the newer change back first"):
        take_back_change(store, oldest, "no", "carl")
    with pytest.raises(BadInput, match="A change of an effort needs a reason"):
        take_back_change(store, newest, " ", "carl")
    take_back_change(store, newest, "did not slip", "carl")
    row = efforts(store, "jump_height", "A1").iloc[0]
    assert row["value"] == 41 and row["excluded"] is None
    assert effort_changes(store, effort_id)["reason"].tolist() == [
        "misread",
        "slipped",
        "did not slip",
    ]
    assert effort_trail(store, "A2").empty
    with pytest.raises(BadInput, match="There is no change 99"):
        take_back_change(store, 99, "no", "carl")


def test_files_that_brought_efforts_are_listed(store, effort_id):
    told = imports_of(store, "A1")
    assert told[["measure", "efforts"]].values.tolist() == [["jump_height", 1]]


def plan(volume: float, advised: float | None = 30.0, reason: str = "") -> PlanEntry:
    return PlanEntry(DAY, "A1", "jump_height", "best", 1, advised, None, volume, reason)


def test_choices_are_taken_back_to_what_was_set_or_advised_before(store):
    first = save_choice(store, plan(20, reason="calf"), "carl")
    second = save_choice(store, plan(25), "carl")
    with pytest.raises(BadInput, match="A newer choice was made"):
        take_back_choice(store, first, "no", "dora")
    with pytest.raises(BadInput, match="needs a reason"):
        take_back_choice(store, second, "", "dora")
    take_back_choice(store, second, "too long", "dora")
    assert plans(store, DAY, "jump_height")["chosen_volume"].tolist() == [20]
    told = choices(store, "A1")
    assert told["chosen_volume"].tolist() == [20, 25, 20]
    assert told["before"].tolist()[:2] == [25, 20] and told["before"].isna().tolist()[2]
    assert told["reason"].tolist() == ["too long", "", "calf"]
    with pytest.raises(BadInput, match="There is no choice 99"):
        take_back_choice(store, 99, "no", "dora")


def test_a_first_choice_goes_back_to_the_advice_if_there_is_any(store):
    take_back_choice(store, save_choice(store, plan(20), "carl"), "no need", "dora")
    assert plans(store, DAY, "jump_height")["chosen_volume"].tolist() == [30]
    alone = PlanEntry(DAY, "A2", "jump_height", "best", 1, None, None, 20)
    with pytest.raises(BadInput, match="Nothing was set or advised before this choice"):
        take_back_choice(store, save_choice(store, alone, "carl"), "no need", "dora")


def test_recording_an_outcome_again_keeps_the_old_one(store):
    made = save_choice(store, plan(20), "carl")
    record_outcome(store, made, 18, 44, "carl")
    record_outcome(store, made, None, 45, "dora")
    told = outcome_changes(store, "A1")
    assert told["person"].tolist() == ["dora", "carl"]
    assert told["old_outcome"].tolist()[0] == 44 and told["old_done_volume"].tolist()[0] == 18
    assert told["old_outcome"].isna().tolist() == [False, True]
    assert plans(store, DAY, "jump_height")["outcome"].tolist() == [45]
