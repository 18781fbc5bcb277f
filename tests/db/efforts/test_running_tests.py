from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.live_efforts import (
    BY_THE_RULE,
    Entry,
    add_effort,
    end_test,
    last_entry,
    undo_effort,
)
from db.efforts.live_tests import earlier_methods, efforts_in, open_tests, parts_in
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.efforts.rows import observations, sessions
from db.errors import BadInput
from db.file.checks import check
from db.fits.results import newer_data
from db.people.accounts import Person
from db.people.sight import in_sight, sight_of
from db.privacy.erasing import erase_athlete
from db.roster.athletes import save_athletes

NOON = datetime(2026, 3, 1, 12)
LIVE_TEST = NewLiveTest(
    "jump_height",
    NOON,
    (
        NewTest("A1", {"pain": False, "freshness": 7, "ambient_c": 12.5}),
        NewTest("A2", {"pain": False}),
    ),
    Method("value", "mat"),
    StopRule(0.9, 3),
)


@pytest.fixture
def live_test_id(store):
    return begin_live_test(store, LIVE_TEST, "carl")


@pytest.fixture
def first(store, live_test_id):
    return int(parts_in(store, live_test_id)["session_id"].iloc[0])


def values_of(store, live_test_id):
    return efforts_in(store, live_test_id)["value"].tolist()


def test_a_live_test_is_open_with_its_facts_before_any_effort(store, live_test_id):
    found = open_tests(store)
    assert found["athlete"].tolist() == ["A1", "A2"]
    assert found["person"].unique().tolist() == ["carl"]
    assert found["device"].unique().tolist() == ["mat"]
    assert found["efforts"].tolist() == [0, 0]
    assert sessions(store).empty, "without efforts it is no session yet"
    assert check(store) == []


def test_an_effort_is_in_the_store_at_once_with_the_facts(store, live_test_id, first):
    assert add_effort(store, first, 1, 41.5, 0, "carl")
    (row,) = sessions(store).to_dict("records")
    assert (row["efforts"], row["freshness"], row["ambient_c"], row["pain"]) == (1, 7, 12.5, False)
    assert observations(store, "jump_height")["value"].tolist() == [41.5]
    assert check(store) == []


def test_the_same_effort_from_two_devices_is_stored_once(store, live_test_id, first):
    assert add_effort(store, first, 1, 41.5, 0, "carl")
    assert not add_effort(store, first, 1, 41.5, 0, "dora")
    with pytest.raises(
        BadInput, match="Effort 1 was entered meanwhile .*: 41.5. Yours, 40, was not"
    ):
        add_effort(store, first, 1, 40.0, 0, "dora")
    with pytest.raises(BadInput, match="next effort is number 2, not 3"):
        add_effort(store, first, 3, 40.0, 2, "carl")
    assert values_of(store, live_test_id) == [41.5]


def test_many_devices_at_once_store_nothing_twice(store, live_test_id, first):
    def type_in(device: int) -> int:
        stored = 0
        for effort in range(1, 6):
            stored += add_effort(store, first, effort, 40.0 + effort, effort - 1, f"d{device}")
        return stored

    with ThreadPoolExecutor(4) as devices:
        assert sum(devices.map(type_in, range(4))) == 5
    assert values_of(store, live_test_id) == [41, 42, 43, 44, 45]
    assert check(store) == []


def test_an_effort_sent_again_after_its_correction_is_still_known(store, live_test_id, first):
    add_effort(store, first, 1, 14.5, 0, "carl")
    effort_id = int(efforts_in(store, live_test_id)["effort_id"].iloc[0])
    correct_effort(store, effort_id, 41.5, "typed wrongly", "carl")
    assert not add_effort(store, first, 1, 14.5, 0, "dora")
    (row,) = efforts_in(store, live_test_id).to_dict("records")
    assert (row["value"], row["first_value"]) == (41.5, 14.5)


def effort_ids(store, live_test_id):
    return efforts_in(store, live_test_id)["effort_id"].tolist()


def test_an_undone_effort_is_kept_apart(store, live_test_id, first):
    add_effort(store, first, 1, 41.5, 0, "carl")
    add_effort(store, first, 2, 4.15e1 + 1, 1, "carl")
    before, slip = newer_data(store, "jump_height"), effort_ids(store, live_test_id)[1]
    undo_effort(store, first, slip, "carl")
    assert values_of(store, live_test_id) == [41.5]
    assert newer_data(store, "jump_height") == before - 1
    with store.reading() as cursor:
        kept = cursor.execute("SELECT effort, value, person FROM undone_effort").fetchall()
    assert kept == [(2, 42.5, "carl")]
    assert add_effort(store, first, 2, 43.0, 1, "carl")
    assert check(store) == []


def test_only_the_last_effort_can_be_undone_and_only_if_unchanged(store, live_test_id, first):
    add_effort(store, first, 1, 41.5, 0, "carl")
    add_effort(store, first, 2, 42.5, 1, "carl")
    one, two = effort_ids(store, live_test_id)
    with pytest.raises(BadInput, match="41.5 is not the last value of A1 any more"):
        undo_effort(store, first, one, "carl")
    exclude_effort(store, two, "slipped", "carl")
    with pytest.raises(BadInput, match="42.5 of A1 was corrected or marked since"):
        undo_effort(store, first, two, "carl")
    assert values_of(store, live_test_id) == [41.5, 42.5]


def test_an_effort_taken_back_on_one_device_is_not_taken_back_on_another(
    store, live_test_id, first
):
    """Nor is the effort that was entered in its place meanwhile."""
    add_effort(store, first, 1, 93.6, 0, "carl")
    (slip,) = effort_ids(store, live_test_id)
    undo_effort(store, first, slip, "carl")
    add_effort(store, first, 1, 39.6, 0, "carl")
    with pytest.raises(BadInput, match="93.6 of A1 was taken back already, by carl"):
        undo_effort(store, first, slip, "dora")
    with pytest.raises(BadInput, match="A1 has no such effort in this test"):
        undo_effort(store, first, 9999, "dora")
    assert values_of(store, live_test_id) == [39.6]


def test_the_last_entry_of_a_live_test_is_found_among_all_its_athletes(store, live_test_id, first):
    second = int(parts_in(store, live_test_id)["session_id"].iloc[1])
    assert last_entry(store, live_test_id) is None
    add_effort(store, first, 1, 41.5, 0, "carl")
    add_effort(store, second, 1, 39.0, 0, "carl")
    ids = effort_ids(store, live_test_id)
    assert last_entry(store, live_test_id) == Entry(second, ids[1], 39.0, False)
    undo_effort(store, second, ids[1], "carl")
    assert last_entry(store, live_test_id) == Entry(second, ids[1], 39.0, True)


def test_an_ended_test_takes_nothing_more(store, live_test_id, first):
    add_effort(store, first, 1, 41.5, 0, "carl")
    end_test(store, first, "the athlete stopped", "dora")
    for act in (
        lambda: add_effort(store, first, 2, 41.5, 1, "carl"),
        lambda: end_test(store, first, "", "carl"),
    ):
        with pytest.raises(BadInput, match="was ended, perhaps on another device"):
            act()
    with pytest.raises(BadInput, match="The test of A1 was ended, so 41.5 of A1 was left"):
        undo_effort(store, first, effort_ids(store, live_test_id)[0], "carl")
    assert open_tests(store)["athlete"].tolist() == ["A2"]
    ended = parts_in(store, live_test_id).iloc[0]
    assert (ended["ended_by"], ended["ended_because"]) == ("dora", "the athlete stopped")


def entered_at(store, session_id, seconds):
    """Set when the efforts of a test were entered: these seconds after noon, in order."""
    with store.writing("carl", "set the clock") as cursor:
        found = cursor.execute(
            "SELECT revision FROM audit WHERE action = 'add effort' AND detail LIKE ? "
            "ORDER BY revision",
            [f"{session_id} %"],
        ).fetchall()
        for (revision,), second in zip(found, seconds, strict=True):
            cursor.execute(
                "UPDATE audit SET happened_at = TIMESTAMPTZ '2026-03-01 12:00:00Z' + "
                "to_seconds(?) WHERE revision = ?",
                [second, revision],
            )


def rest_between(store, session_id):
    (row,) = sessions(store).query(f"session_id == {session_id}").to_dict("records")
    return row["effort_rest_seconds"]


def test_the_rest_actually_taken_between_efforts_is_saved(store, live_test_id, first):
    for effort in (1, 2, 3, 4):
        add_effort(store, first, effort, 40.0 + effort, effort - 1, "carl")
    add_effort(store, first, 2, 42.0, 1, "carl")
    entered_at(store, first, [0, 45, 95, 1000, 1100])
    (second, *_) = efforts_in(store, live_test_id)["effort_id"].iloc[1:]
    correct_effort(store, int(second), 41.0, "typed wrongly", "carl")
    end_test(store, first, "", "carl")
    assert rest_between(store, first) == 50.0
    rows = observations(store, "jump_height")
    assert rows["effort_rest_seconds"].tolist() == [50.0] * 4
    assert check(store) == []


def test_an_effort_entered_in_place_of_another_keeps_its_own_time(store, live_test_id, first):
    add_effort(store, first, 1, 40.0, 0, "carl")
    add_effort(store, first, 2, 41.0, 1, "carl")
    entered_at(store, first, [0, 20])
    undo_effort(store, first, int(efforts_in(store, live_test_id)["effort_id"].iloc[1]), "carl")
    with store.writing("carl", "set the clock") as cursor:
        cursor.execute("UPDATE undone_effort SET undone_at = TIMESTAMPTZ '2026-03-01 12:00:30Z'")
    add_effort(store, first, 2, 41.5, 1, "carl")
    entered_at(store, first, [0, 20, 65])
    end_test(store, first, "", "carl")
    assert rest_between(store, first) == 65.0


@pytest.mark.parametrize("seconds", [[0], [0, 3601]])
def test_no_rest_is_saved_for_a_single_effort_or_after_a_break(store, first, seconds):
    for effort in range(1, 1 + len(seconds)):
        add_effort(store, first, effort, 40.0, effort - 1, "carl")
    entered_at(store, first, seconds)
    end_test(store, first, "", "carl")
    assert pd.isna(rest_between(store, first))


def test_taking_back_the_effort_that_met_the_stop_rule_reopens_the_test(store, live_test_id, first):
    add_effort(store, first, 1, 41.5, 0, "carl")
    end_test(store, first, BY_THE_RULE, "carl")
    undo_effort(store, first, effort_ids(store, live_test_id)[0], "carl")
    assert open_tests(store)["athlete"].tolist() == ["A1", "A2"]
    assert add_effort(store, first, 1, 40.0, 0, "carl")
    assert check(store) == []


def test_a_test_is_not_reopened_once_there_is_a_newer_one(store, live_test_id, first):
    add_effort(store, first, 1, 41.5, 0, "carl")
    end_test(store, first, BY_THE_RULE, "carl")
    later = replace(LIVE_TEST, started_at=datetime(2026, 3, 1, 13), tests=LIVE_TEST.tests[:1])
    begin_live_test(store, later, "dora")
    with pytest.raises(BadInput, match="A1 has begun another test since"):
        undo_effort(store, first, effort_ids(store, live_test_id)[0], "carl")
    assert values_of(store, live_test_id) == [41.5]


@pytest.mark.parametrize("pain", [True, None, "no"])
def test_nobody_is_tested_with_pain_or_without_an_answer_about_it(store, pain):
    new = replace(LIVE_TEST, tests=(LIVE_TEST.tests[0], NewTest("A2", {"pain": pain})))
    with pytest.raises(BadInput, match="of A2 that was not confirmed.* see the medical staff"):
        begin_live_test(store, new, "carl")
    assert open_tests(store).empty, "all tests of a round begin, or none"


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"tests": ()}, "No athlete was chosen"),
        ({"tests": (LIVE_TEST.tests[0], LIVE_TEST.tests[0])}, "chosen twice"),
        ({"tests": (NewTest("Z9", {"pain": False}),)}, "There is no athlete 'Z9'"),
        ({"measure": "magic"}, "There is no measure 'magic'"),
        ({"kind": "hard"}, "There is no kind 'hard'"),
        ({"stop": StopRule(1.0, 3)}, "Take 1 to 20 in a row, below 50 to 99 %"),
        ({"method": Method("guess")}, "There is no method 'guess'"),
        ({"method": Method("distance and time")}, "needs a distance in metres above 0"),
        ({"first_volume": -1.0}, "it must be 0 to 10000"),
        ({"tests": (NewTest("A1", {"pain": False, "joints": 11}),)}, "11 is outside 0 to 10"),
        ({"tests": (NewTest("A1", {"pain": False, "mood": 3}),)}, "no session fact mood"),
    ],
)
def test_a_test_that_cannot_begin_says_why(store, change, why):
    with pytest.raises(BadInput, match=why):
        begin_live_test(store, replace(LIVE_TEST, **change), "carl")
    assert open_tests(store).empty


def test_a_second_open_test_of_the_same_measure_is_refused(store, live_test_id):
    later = replace(LIVE_TEST, started_at=datetime(2026, 3, 1, 13))
    with pytest.raises(
        BadInput, match="has an open test of jump_height, begun by carl. Go on with"
    ):
        begin_live_test(store, later, "dora")


def test_a_value_outside_the_limits_is_refused(store, first):
    with pytest.raises(BadInput, match="400 cannot be a value of jump height"):
        add_effort(store, first, 1, 400.0, 0, "carl")


def test_earlier_methods_are_listed(store, live_test_id, first):
    assert earlier_methods(store, "A1", "jump_height").empty, "nothing was measured yet"
    add_effort(store, first, 1, 41.5, 0, "carl")
    (row,) = earlier_methods(store, "A1", "jump_height").to_dict("records")
    assert (row["method"], row["device"], row["sessions"]) == ("value", "mat", 1)
    assert earlier_methods(store, "A1", "jump_height", besides=first).empty


def test_a_coach_of_some_squads_sees_only_their_tests(store, live_test_id, first):
    save_athletes(store, pd.DataFrame({"athlete": ["A1", "A2"], "squad": ["One", "Two"]}), "t")
    seen = in_sight(store, sight_of(Person("yara", "Yara", "coach", squads=("Two",))))
    second = int(parts_in(store, live_test_id)["session_id"].iloc[1])
    assert open_tests(seen)["athlete"].tolist() == ["A2"]
    assert add_effort(seen, second, 1, 40.0, 0, "yara")
    for act in (
        lambda: add_effort(seen, first, 1, 40.0, 0, "yara"),
        lambda: end_test(seen, first, "", "yara"),
    ):
        with pytest.raises(BadInput, match=f"There is no test {first}"):
            act()
    with pytest.raises(BadInput, match="There is no athlete 'A1'"):
        begin_live_test(
            seen, replace(LIVE_TEST, tests=LIVE_TEST.tests[:1], measure="sprint_10m"), "yara"
        )
    assert efforts_in(seen, live_test_id)["session_id"].tolist() == [second]


def test_an_erased_athlete_leaves_no_test(closed_store):
    with closed_store.reading():
        found = parts_in(closed_store, begin_live_test(closed_store, LIVE_TEST, "carl"))
        first = int(found["session_id"].iloc[0])
        for effort in (1, 2):
            add_effort(closed_store, first, effort, 41.5, effort - 1, "carl")
        undo_effort(closed_store, first, effort_ids(closed_store, 1)[-1], "carl")
    erase_athlete(closed_store, "A1", "dora")
    with closed_store.reading() as cursor:
        for table in ("session_method", "undone_effort", "test_run"):
            left = cursor.execute(f"SELECT session_id FROM {table}").fetchall()
            assert (first,) not in left
    assert open_tests(closed_store)["athlete"].tolist() == ["A2"]
    assert check(closed_store) == []
