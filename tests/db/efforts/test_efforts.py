from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.efforts.rows import data_summary, efforts, observations, sessions
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.checks import check
from tests.db.conftest import HEADER, dump, effort_changes

NINE = datetime(2026, 3, 1, 9)
ENTRY = SessionEntry(
    athlete="A1",
    measure="jump_height",
    started_at=NINE,
    efforts=(EffortEntry(1, 40.5, 3), EffortEntry(2, 41.0, 4.5)),
    context="test",
    facts={"pain": False, "rest_minutes": 4, "note": "first try", "joints": None},
)


def test_a_session_comes_back_as_it_was_typed(store):
    number = add_session(store, ENTRY, "coach")
    rows = efforts(store, "jump_height")
    assert rows["session_id"].tolist() == [number, number]
    assert rows[["effort", "value", "volume"]].values.tolist() == [[1, 40.5, 3], [2, 41.0, 4.5]]
    first = rows.iloc[0]
    assert first[["athlete", "kind", "context", "note"]].tolist() == [
        "A1",
        "routine",
        "test",
        "first try",
    ]
    assert (first["started_at"], first["rest_minutes"], first["pain"]) == (NINE, 4.0, False)
    assert pd.isna(first["joints"])
    with store.reading() as cursor:
        batches = cursor.execute("SELECT DISTINCT batch_id FROM effort").fetchall()
        audit = cursor.execute(
            "SELECT person, action, detail FROM audit ORDER BY revision"
        ).fetchall()
    assert batches == [(None,)]
    assert audit[-1] == ("coach", "add session", "A1 jump_height 2026-03-01T09:00")


def test_saving_again_after_every_effort_adds_the_new_ones(store):
    fade = replace(ENTRY, kind="fade", efforts=(EffortEntry(1, 40.0),), facts={})
    number = add_session(store, fade, "coach")
    grown = replace(fade, efforts=(*fade.efforts, EffortEntry(2, 41.0)), facts={"note": "done"})
    assert add_session(store, grown, "coach") == number
    assert add_session(store, grown, "coach") == number
    rows = efforts(store, "jump_height")
    assert rows[["effort", "volume", "note"]].values.tolist() == [
        [1, 0.0, "done"],
        [2, 1.0, "done"],
    ]


def test_an_offset_is_kept_beside_the_wall_time(store):
    zone = timezone(timedelta(hours=-5))
    number = add_session(store, replace(ENTRY, started_at=NINE.replace(tzinfo=zone)), "coach")
    with store.reading() as cursor:
        found = cursor.execute(
            "SELECT session_id, started_at, utc_offset_minutes FROM session"
        ).fetchall()
    assert found == [(number, NINE, -300)]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"athlete": "A9"}, "cannot be stored. athlete of effort 1: there is no athlete 'A9'"),
        ({"measure": "jump"}, "measure of effort 1: there is no measure 'jump'"),
        ({"started_at": datetime(2226, 3, 1, 9)}, "is in the future"),
        ({"kind": "hard"}, "the words are routine, fade"),
        ({"context": "home"}, "the words are training, game, test, lifting"),
        ({"efforts": ()}, "has no efforts. Enter at least one"),
        ({"efforts": (EffortEntry(1, float("nan"), 0),)}, "value of effort 1: 'nan' is not a num"),
        ({"efforts": (EffortEntry(1, 400.0, 0),)}, "400 is outside 5 to 150 cm"),
        ({"efforts": (EffortEntry(1, 40.0),)}, "volume_before of effort 1: a routine session"),
        ({"efforts": (EffortEntry(0, 40.0, 0),)}, "0 is outside 1 to 10000"),
        ({"efforts": (EffortEntry(1, 40.0, 0), EffortEntry(1, 41.0, 0))}, "41 differs from 40"),
        ({"facts": {"freshness": 11}}, "freshness of effort 1: 11 is outside 0 to 10"),
        ({"facts": {"mood": 3}}, "no session fact mood. The facts are general_minutes"),
    ],
)
def test_a_session_that_cannot_be_stored_says_why_and_stores_nothing(store, change, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=sentence) as caught:
        add_session(store, replace(ENTRY, **change), "coach")
    assert dump(store) == before
    assert "of effort 2" not in caught.value.message


def test_a_stored_effort_is_not_overwritten(store):
    add_session(store, ENTRY, "coach")
    before = dump(store)
    with pytest.raises(BadInput, match="value of effort 1: 44 differs from 40.5, which is stored"):
        add_session(store, replace(ENTRY, efforts=(EffortEntry(1, 44.0, 3),)), "coach")
    with pytest.raises(BadInput, match="note is other here and first try for this session before"):
        add_session(store, replace(ENTRY, facts={"note": "other"}), "coach")
    assert dump(store) == before


def test_a_correction_keeps_the_old_value(store):
    add_session(store, ENTRY, "coach")
    number = int(efforts(store, "jump_height")["effort_id"].iloc[0])
    correct_effort(store, number, 42.0, "typed wrongly", "coach")
    correct_effort(store, number, 43.0, "read wrongly", "director")
    assert efforts(store, "jump_height")["value"].tolist() == [43.0, 41.0]
    changes = effort_changes(store, number)
    assert changes[["person", "reason", "old_value", "new_value"]].values.tolist() == [
        ["coach", "typed wrongly", 40.5, 42.0],
        ["director", "read wrongly", 42.0, 43.0],
    ]
    assert changes[["old_excluded", "new_excluded"]].isna().all(axis=None)
    assert check(store) == []


def test_an_excluded_effort_is_kept_and_not_used(store):
    add_session(store, ENTRY, "coach")
    number = int(efforts(store, "jump_height")["effort_id"].iloc[0])
    exclude_effort(store, number, " slipped ", "coach")
    assert efforts(store, "jump_height")["excluded"].tolist()[0] == "slipped"
    assert observations(store, "jump_height")["effort"].tolist() == [2]
    assert data_summary(store)["efforts"].tolist() == [1]
    include_effort(store, number, "it was fine", "director")
    assert observations(store, "jump_height")["effort"].tolist() == [1, 2]
    changes = effort_changes(store, number)
    assert changes["person"].tolist() == ["coach", "director"]
    assert changes["new_excluded"].tolist()[0] == changes["old_excluded"].tolist()[1] == "slipped"
    assert check(store) == []


def test_changes_that_are_refused(store):
    add_session(store, ENTRY, "coach")
    one, two = efforts(store, "jump_height")["effort_id"].tolist()
    exclude_effort(store, two, "wind", "coach")
    before = dump(store)
    refused = [
        (lambda: correct_effort(store, 99, 42.0, "why", "coach"), "no effort 99"),
        (lambda: correct_effort(store, one, 40.5, "why", "coach"), "has the value 40.5 already"),
        (lambda: correct_effort(store, one, 400.0, "why", "coach"), "within 5 to 150 cm"),
        (lambda: correct_effort(store, one, float("nan"), "why", "coach"), "nan cannot be"),
        (lambda: correct_effort(store, one, 42.0, " ", "coach"), "needs a reason"),
        (lambda: exclude_effort(store, one, "", "coach"), "needs a reason"),
        (lambda: exclude_effort(store, two, "why", "coach"), "excluded already: wind"),
        (lambda: include_effort(store, one, "why", "coach"), "is not excluded"),
        (lambda: include_effort(store, two, "", "coach"), "needs a reason"),
    ]
    for change, sentence in refused:
        with pytest.raises(BadInput, match=sentence):
            change()
    assert dump(store) == before


def test_summaries_count_usable_data(store, bring):
    bring(
        *(f"A1,2026-03-01T09:00,jump_height,{n},40,{n - 1},fade," for n in range(1, 5)),
        "A1,2026-03-02T09:00,jump_height,1,40,9,routine,",
        "A1,2026-03-02T09:00,jump_height,2,44,12,routine,slipped",
        "A1,2026-03-02T09:00,sprint_10m,1,1.8,3,routine,",
        "A2,2026-03-03T09:00,jump_height,1,40,5,routine,slipped",
        header=f"{HEADER},kind,excluded",
    )
    summary = data_summary(store)
    assert summary.drop(columns=["first_session", "last_session"]).values.tolist() == [
        ["A1", "jump_height", 2, 1, 5, 9.0],
        ["A1", "sprint_10m", 1, 0, 1, 3.0],
    ]
    assert summary["first_session"][0] == pd.Timestamp("2026-03-01T09:00")
    assert summary["last_session"][0] == pd.Timestamp("2026-03-02T09:00")


def test_sessions_are_listed_newest_first(store, bring):
    bring(
        "A1,2026-03-01T09:00,jump_height,1,40,0,",
        "A1,2026-03-01T09:00,jump_height,2,44,1,slipped",
        "A2,2026-03-02T09:00,jump_height,1,42,3,",
        "A1,2026-03-03T09:00,sprint_10m,1,1.8,3,",
        header=f"{HEADER},excluded",
    )
    columns = ["athlete", "measure", "efforts", "excluded_efforts", "largest_volume"]
    assert sessions(store)[columns].values.tolist() == [
        ["A1", "sprint_10m", 1, 0, 3.0],
        ["A2", "jump_height", 1, 0, 3.0],
        ["A1", "jump_height", 2, 1, 1.0],
    ]
    assert sessions(store, athlete="A1", measure="jump_height")["highest_value"].tolist() == [40.0]
    assert sessions(store, limit=1)["measure"].tolist() == ["sprint_10m"]
    assert sessions(store, athlete="A9").empty
    assert efforts(store, "jump_height", "A2")["value"].tolist() == [42.0]


def test_observations_include_athletes_who_left(store, bring):
    from db.roster.athletes import save_athletes

    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    save_athletes(store, pd.DataFrame({"athlete": ["A1"], "active": ["no"]}), "tester")
    rows = observations(store, "jump_height")
    assert list(rows.columns) == (
        "athlete session_id started_at context kind effort volume value "
        "general_minutes rest_minutes effort_rest_seconds ambient_c days_since_game hour "
        "readiness".split()
    )
    assert rows["athlete"].tolist() == ["A1"]
