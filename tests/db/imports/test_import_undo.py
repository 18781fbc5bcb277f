from __future__ import annotations

from datetime import date, datetime

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.efforts.rows import efforts, sessions
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.checks import check
from db.fits.results import newer_data
from db.imports.past_imports import set_aside_rows
from db.imports.storing import import_efforts
from db.imports.undo import depends_on_import, imports_with_undo, take_back_import
from db.plans.lengths import save_choice
from db.plans.outcomes import record_outcome
from tests.db.conftest import HEADER, dump, table_of
from tests.db.fits.test_results import keep
from tests.db.plans.test_plans import PLAN

JUMPS = [f"A1,2026-03-01T09:00,jump_height,{n},{40 + n},{n - 1}" for n in (1, 2, 3)]
BAD = "A9,2026-03-01T09:00,jump_height,1,40,0"
WITH_FACTS = HEADER + ",rest_minutes,note,kind"


def take_back(store, batch_id: int = 1) -> int:
    return take_back_import(store, batch_id, "dora", "wrong day")


def test_an_import_is_taken_back_completely_and_stays_listed(store, bring):
    report = bring(*JUMPS, JUMPS[0], BAD)
    before = store.revision()
    assert take_back(store, report.batch_id) == 3
    assert efforts(store, "jump_height").empty and sessions(store).empty
    row = imports_with_undo(store).iloc[0]
    assert (row["rows_read"], row["stored"], row["known"], row["set_aside"]) == (5, 3, 1, 1)
    assert (row["taken_back_by"], row["taken_back_because"]) == ("dora", "wrong day")
    assert pd.notna(row["taken_back_at"])
    assert set_aside_rows(store).empty and len(set_aside_rows(store, report.batch_id)) == 1
    assert [row[4] for row in dump(store)["taken_back_effort"]] == [41.0, 42.0, 43.0]
    assert store.revision() == before + 1
    assert dump(store)["audit"][-1][2:] == ("dora", "take back import", "1")
    assert check(store) == []


def test_the_same_file_can_be_imported_again_and_taken_back_again(store, bring):
    header = WITH_FACTS
    first = bring("A1,2026-03-01T09:00,jump_height,1,40,,5,windy,fade", header=header)
    stored = efforts(store, "jump_height").drop(columns="effort_id")
    take_back(store, first.batch_id)
    second = bring("A1,2026-03-01T09:00,jump_height,1,40,,5,windy,fade", header=header)
    assert (second.batch_id, second.stored, second.known) == (first.batch_id + 1, 1, 0)
    pd.testing.assert_frame_equal(efforts(store, "jump_height").drop(columns="effort_id"), stored)
    take_back(store, second.batch_id)
    third = bring("A1,2026-03-01T09:00,jump_height,1,41,3,8,calm,routine", header=header)
    assert (third.stored, third.set_aside) == (1, 0)
    row = efforts(store, "jump_height").iloc[0]
    assert (row["kind"], row["volume"], row["rest_minutes"], row["note"]) == (
        "routine",
        3.0,
        8.0,
        "calm",
    )
    assert check(store) == []


def test_a_session_typed_after_the_undo_is_stored(store, bring):
    bring(*JUMPS)
    take_back(store)
    entry = SessionEntry("A1", "jump_height", datetime(2026, 3, 1, 9), (EffortEntry(1, 50.0),))
    with pytest.raises(BadInput, match="a routine session needs the volume"):
        add_session(store, entry, "carl")
    fade = SessionEntry(
        "A1", "jump_height", datetime(2026, 3, 1, 9), (EffortEntry(1, 50.0),), kind="fade"
    )
    add_session(store, fade, "carl")
    assert sessions(store)[["kind", "efforts"]].values.tolist() == [["fade", 1]]
    assert check(store) == []


def test_facts_that_the_file_filled_in_are_removed_again(store, bring):
    bring(*JUMPS)
    before = sessions(store)
    row = "A1,2026-03-01T09:00,jump_height,4,44,3,7,windy,routine"
    filled = bring(row, header=WITH_FACTS)
    assert sessions(store)["note"].tolist() == ["windy"]
    with pytest.raises(BadInput, match=r"name its sessions again, 1: import 2 \(r"):
        take_back(store)
    take_back(store, filled.batch_id)
    pd.testing.assert_frame_equal(sessions(store), before)
    assert take_back(store) == 3
    assert check(store) == []


def typed_later(store):
    start = datetime(2026, 3, 1, 9)
    add_session(store, SessionEntry("A1", "jump_height", start, (EffortEntry(9, 50, 8),)), "carl")


def facts_typed_later(store):
    start, facts = datetime(2026, 3, 1, 9), {"note": "windy"}
    entry = SessionEntry("A1", "jump_height", start, (EffortEntry(1, 41, 0),), facts=facts)
    add_session(store, entry, "carl")


def excluded_and_included(store):
    exclude_effort(store, 1, "slipped", "carl")
    include_effort(store, 1, "no, did not", "carl")


def outcome_recorded(store):
    record_outcome(store, save_choice(store, PLAN, "carl"), 6.0, 47.0, "carl")


@pytest.mark.parametrize(
    ("newer", "sentence"),
    [
        (
            lambda s: correct_effort(s, 1, 45.0, "typo", "carl"),
            "corrected.*, 1: A1 2026-03-01 09:00 ef",
        ),
        (excluded_and_included, "Efforts of it that were corrected, excluded or taken in again"),
        (
            typed_later,
            "Sessions of it that were added to or changed by hand since, 1: A1 2026-03-01",
        ),
        (facts_typed_later, "added to or changed by hand since"),
        (lambda s: import_efforts(s, table_of([*JUMPS, BAD]), "c"), r"import 2 \(rows.csv\). Take"),
        (outcome_recorded, "Plans with an outcome .*1: A1 on 2026-03-01"),
    ],
)
def test_newer_work_that_depends_on_the_import_is_named(store, bring, newer, sentence):
    bring(*JUMPS)
    assert depends_on_import(store, 1) == []
    newer(store)
    before = dump(store)
    with pytest.raises(BadInput, match=f"cannot be taken back, as newer work.*{sentence}"):
        take_back(store)
    assert dump(store) == before
    assert len(depends_on_import(store, 1)) == 1


def test_newer_work_on_other_sessions_does_not_prevent_an_undo(store, bring):
    bring(*JUMPS)
    bring("A2,2026-03-01T09:00,jump_height,1,40,0", "A1,2026-03-02T09:00,jump_height,1,40,0")
    save_choice(store, PLAN, "carl")
    keep(store)
    assert take_back(store) == 3
    assert len(efforts(store, "jump_height")) == 2
    assert check(store) == []


def test_the_curves_are_out_of_date_after_an_undo(store, bring):
    bring(*JUMPS)
    keep(store, data_revision=store.revision())
    assert newer_data(store, "jump_height") == 0
    take_back(store)
    assert newer_data(store, "jump_height") == 3


def test_an_import_by_an_older_program_prevents_undoing_earlier_ones(store, bring):
    bring(*JUMPS)
    bring(*JUMPS, "A2,2026-03-01T09:00,jump_height,1,40,0")
    with store.writing("tester", "as if older") as cursor:
        cursor.execute("DELETE FROM import_touch")
        cursor.execute("UPDATE schema_version SET applied_at = now()")
    with pytest.raises(BadInput, match="did not keep whose, 1: import 2"):
        take_back(store)


def test_an_import_that_cannot_be_taken_back_says_why(store, bring):
    bring(*JUMPS)
    with pytest.raises(BadInput, match="needs a reason"):
        take_back_import(store, 1, "dora", "  ")
    with pytest.raises(BadInput, match="There is no import 7"):
        take_back(store, 7)
    take_back(store)
    with pytest.raises(BadInput, match=f"taken back already, on {date.today()} by dora"):
        take_back(store)
