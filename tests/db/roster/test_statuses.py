from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from db.efforts.effort_changes import exclude_effort
from db.efforts.new_rounds import NewTest, begin_live_test
from db.efforts.rows import efforts
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.roster.statuses import painful_sessions, set_status, standings, status_history
from tests.db.efforts.test_running_tests import LIVE_TEST


def days_ago(days):
    return date.today() - timedelta(days=days)


def session(store, pain, day=None, hour=9):
    at = datetime.combine(day or days_ago(1), datetime.min.time()).replace(hour=hour)
    values = (EffortEntry(1, 40.0, 0.0),)
    add_session(store, SessionEntry("A1", "jump_height", at, values, facts={"pain": pain}), "carl")


def blocked(store):
    rows = standings(store)
    return list(rows.loc[rows["blocked"], "athlete"])


def begin(store, athlete="A1"):
    return begin_live_test(
        store, replace(LIVE_TEST, tests=(NewTest(athlete, {"pain": False}),)), "carl"
    )


def test_an_athlete_who_is_out_is_not_tested_until_staff_say_otherwise(store):
    set_status(store, "A1", "out", days_ago(1), "", "carl")
    assert blocked(store) == ["A1"]
    with pytest.raises(BadInput, match=r"is out: no test and no length until staff"):
        begin(store)
    set_status(store, "A1", "modified", date.today(), "no sprints", "dora")
    assert blocked(store) == [] and begin(store)
    told = status_history(store, "A1")[["status", "reason", "person"]].to_numpy().tolist()
    assert told == [["modified", "no sprints", "dora"], ["out", "", "carl"]]


@pytest.mark.parametrize("lifted_days_ago", [1, 0])
def test_pain_in_the_last_session_blocks_until_staff_lift_it(store, lifted_days_ago):
    set_status(store, "A1", "fit", days_ago(1), "", "carl")
    session(store, pain=True)
    assert blocked(store) == ["A1"]
    with pytest.raises(BadInput, match=r"had pain on \d+ \w+ \d{4}"):
        begin(store)
    set_status(store, "A1", "fit", days_ago(lifted_days_ago), "", "carl")
    assert blocked(store) == [] and begin(store)


def test_a_later_session_without_pain_does_not_lift_the_block(store):
    hurt = days_ago(60)
    session(store, pain=True, day=hurt)
    for day, hour in ((hurt, 18), (hurt + timedelta(days=6), 9), (days_ago(1), 9)):
        session(store, pain=False, day=day, hour=hour)
        assert blocked(store) == ["A1"]


@pytest.mark.parametrize(("days", "who"), [(27, ["A1"]), (30, [])])
def test_only_recent_pain_in_an_imported_season_blocks_an_athlete(store, bring, days, who):
    header = "athlete,started_at,measure,effort,value,volume_before,pain"
    bring(f"A1,{days_ago(days)} 09:00,jump_height,1,40,0,yes", header=header)
    assert blocked(store) == who
    assert len(painful_sessions(store)) == 1, "it is found all the same"


def test_sessions_in_pain_are_found_until_their_efforts_are_excluded(store):
    session(store, pain=True)
    session(store, pain=False, hour=18)
    (found,) = painful_sessions(store, "jump_height").to_dict("records")
    assert (found["athlete"], found["efforts"], found["started_at"].hour) == ("A1", 1, 9)
    assert painful_sessions(store, "sprint_10m").empty
    first = efforts(store, "jump_height")["effort_id"].iloc[0]
    exclude_effort(store, int(first), "in pain", "carl")
    assert painful_sessions(store).empty


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"status": "ill"}, "There is no status 'ill'. Choose among fit, modified, out"),
        ({"since": "tomorrow"}, "is still to come"),
        ({"status": "modified", "reason": " "}, "Modified needs a few words"),
        ({"reason": "x" * 81}, "The reason has 81 letters; take 80 at most"),
        ({"athlete": "Z9"}, "There is no athlete 'Z9'"),
    ],
)
def test_a_bad_status_is_reported_and_nothing_is_saved(store, changed, message):
    asked = {"athlete": "A1", "status": "fit", "since": date.today(), "reason": ""} | changed
    if (
        asked["since"] == "tomorrow"
    ):  # Worked out now: pytest may have collected it before midnight.
        asked["since"] = days_ago(-1)
    with pytest.raises(BadInput, match=message):
        set_status(store, **asked, person="carl")
    assert status_history(store, "A1").empty
