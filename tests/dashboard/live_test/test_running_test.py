"""Where a running test stands: always the rule applied again to what is in the store."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboard.live_test import words
from dashboard.live_test.state import (
    LiveTest,
    Standing,
    accept,
    methods_for,
    next_turn,
    read_live_test,
    read_value,
    volume_before,
)
from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.efforts.live_efforts import end_test, undo_effort
from db.efforts.live_tests import earlier_methods, open_tests
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.roster.measures import Measure, get_measure
from modeling.testing.fade import FadeState
from tests.dashboard.conftest import fill, new_store

JUMP = Measure("jump_height", "Jump height", "cm", "higher", lowest=5, highest=150)
THROW = Measure("throw_speed", "Throw speed", "m/s", "higher", "throws")
SPRINT = Measure("sprint_10m", "10 m sprint", "s", "lower")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store of the five athletes, kept open."""
    store = new_store(tmp_path_factory.mktemp("running") / "store.duckdb")
    fill(store, fitted=False)
    with store.reading():
        yield store


_minutes = iter(range(1, 60 * 24 * 300))


def began(store: Store, *codes: str, measure: str = "jump_height", **more: object) -> int:
    """Begin a live test, after ending every test that is open."""
    minute = next(_minutes)
    started = datetime(2025, 1 + minute // 40_000, 1 + minute // 1440 % 28, 0, 0)
    started = started.replace(hour=minute // 60 % 24, minute=minute % 60)
    for one in open_tests(store).to_dict("records"):
        end_test(store, int(one["session_id"]), "", "test")
    tests = tuple(NewTest(code, {"pain": False}) for code in codes)
    plain = {"method": Method(), "stop": StopRule(0.9, 3)}
    return begin_live_test(store, NewLiveTest(measure, started, tests, **{**plain, **more}), "carl")


def seen(store: Store, live_test_id: int) -> LiveTest:
    found = read_live_test(store, live_test_id)
    assert found is not None
    return found


def type_in(store: Store, live_test_id: int, *texts: str, place: int = 0) -> None:
    for text in texts:
        now = seen(store, live_test_id)
        one = now.standings[place]
        accept(store, one, one.next_effort, text, now.measure, "carl")


def low_in_a_row(values: list[float | None], share: float) -> int:
    """Count forwards, as a tester with a pencil would; None is a spoiled effort."""
    best, row = 0.0, 0
    for value in values:
        if value is None:
            continue
        best = max(best, value)
        row = row + 1 if value < share * best else 0
    return row


ACTS = st.lists(
    st.tuples(
        st.sampled_from(["add", "add", "add", "undo", "correct", "spoil", "use"]),
        st.integers(0, 30),
        st.integers(300, 420),
    ),
    min_size=3,
    max_size=12,
)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(ACTS)
def test_the_state_follows_from_the_rule_and_the_store(
    store: Store, acts: list[tuple[str, int, int]]
) -> None:
    live_test_id = began(store, "A1")
    held: list[tuple[float, bool, bool]] = []
    for act, place, tenths in acts:
        now = seen(store, live_test_id)
        (one,), value = now.standings, tenths / 10
        try:
            if act == "add":
                accept(store, one, one.next_effort, f"{value}", now.measure, "carl")
                held.append((value, False, False))
            elif act == "undo":
                undo_effort(store, one.session_id, [0, *one.efforts["effort_id"]][-1], "carl")
                held.pop()
            elif held:
                place %= len(held)
                effort_id = int(one.efforts["effort_id"].iloc[place])
                before, spoiled, _ = held[place]
                if act == "correct":
                    correct_effort(store, effort_id, value, "slip of the finger", "carl")
                    held[place] = (value, spoiled, True)
                elif act == "spoil":
                    exclude_effort(store, effort_id, "slipped", "carl")
                    held[place] = (before, True, True)
                else:
                    include_effort(store, effort_id, "was fine", "carl")
                    held[place] = (before, False, True)
        except BadInput:
            # The rule says stop, or there is nothing to undo or change.
            pass
        (one,) = seen(store, live_test_id).standings
        assert list(one.efforts["value"]) == [value for value, _, _ in held]
        assert list(one.efforts["effort"]) == list(range(1, len(held) + 1))
        assert list(one.efforts["volume"]) == list(range(len(held)))
        row = low_in_a_row([None if spoiled else value for value, spoiled, _ in held], 0.9)
        assert one.state.low_in_a_row == row
        assert one.is_over == (row >= 3)
        good = [value for value, spoiled, _ in held if not spoiled]
        assert one.state.best == (max(good) if good else None)


def test_the_store_is_still_sound(store: Store) -> None:
    assert check(store) == []


def test_a_spoiled_effort_is_passed_over_and_counts_as_volume(store: Store) -> None:
    live_test_id = began(store, "A1")
    type_in(store, live_test_id, "40", "35", "20", "35")
    one = seen(store, live_test_id).standings[0]
    assert one.is_over
    exclude_effort(store, int(one.efforts["effort_id"].iloc[2]), "slipped", "carl")
    one = seen(store, live_test_id).standings[0]
    assert (one.is_over, one.state.low_in_a_row, one.made) == (False, 2, 4)
    type_in(store, live_test_id, "34,5")
    one = seen(store, live_test_id).standings[0]
    assert one.is_over, "the row goes on across the spoiled one"
    assert one.efforts["volume"].iloc[-1] == 4


def test_after_the_stop_no_effort_is_accepted_until_one_is_corrected(store: Store) -> None:
    live_test_id = began(store, "A1")
    type_in(store, live_test_id, "40", "35", "35", "35")
    with pytest.raises(BadInput, match="The stop rule says stop"):
        type_in(store, live_test_id, "41")
    one = seen(store, live_test_id).standings[0]
    correct_effort(store, int(one.efforts["effort_id"].iloc[-1]), 38.5, "typed wrongly", "carl")
    type_in(store, live_test_id, "41")
    assert seen(store, live_test_id).standings[0].state.best == 41


def test_an_effort_sent_again_after_the_stop_is_not_refused(store: Store) -> None:
    live_test_id = began(store, "A1")
    type_in(store, live_test_id, "40", "35", "35", "35")
    now = seen(store, live_test_id)
    assert accept(store, now.standings[0], 4, "35", now.measure, "dora") == 35
    assert seen(store, live_test_id).standings[0].made == 4


def test_athletes_take_turns_until_they_stop(store: Store) -> None:
    live_test_id = began(store, "A1", "A2", "A3")

    def turn() -> str | None:
        one = next_turn(seen(store, live_test_id).standings)
        return None if one is None else str(one.test["athlete"])

    assert turn() == "A1"
    type_in(store, live_test_id, "40", place=0)
    assert turn() == "A2"
    type_in(store, live_test_id, "40", "35", "35", "35", place=1)
    assert turn() == "A3", "A2 is over"
    end_test(store, seen(store, live_test_id).standings[2].session_id, "", "carl")
    assert turn() == "A1"
    end_test(store, seen(store, live_test_id).standings[0].session_id, "", "carl")
    assert turn() is None


def test_a_routine_test_has_no_stop_and_starts_after_its_warm_up(store: Store) -> None:
    live_test_id = began(store, "A1", kind="routine", first_volume=12.0)
    type_in(store, live_test_id, "40", "35", "35", "35", "35")
    one = seen(store, live_test_id).standings[0]
    assert one.takes_turns
    assert list(one.efforts["volume"]) == [12, 13, 14, 15, 16]


def test_volume_in_minutes_stays_as_typed() -> None:
    minutes = Measure("x", "X", "cm", "higher", "minutes")
    standing = Standing({"first_volume": 15.0}, pd.DataFrame(), FadeState())
    assert volume_before(standing, 3, minutes) == 15
    assert volume_before(standing, 3, JUMP) == 17


def test_a_sprint_is_judged_by_its_speed(store: Store) -> None:
    live_test_id = began(store, "A1", measure="sprint_10m")
    type_in(store, live_test_id, "1.80", "2.01", "2.02", "2.03")
    one = seen(store, live_test_id).standings[0]
    assert one.is_over
    assert one.state.best == 1.80


@pytest.mark.parametrize(
    ("text", "method", "measure", "value"),
    [
        ("41.5", Method(), JUMP, 41.5),
        (" 41,5 ", Method(), JUMP, 41.5),
        # h = g t^2 / 8 with g = 9.80665.
        ("0.5", Method("flight time"), JUMP, 30.646),
        ("0.571235", Method("flight time"), JUMP, 40.0),
        ("2.5", Method("distance and time", "", 10.0), THROW, 4.0),
        ("2.5", Method("distance and time", "", 10.0), Measure("v", "V", "km/h", "higher"), 14.4),
    ],
)
def test_a_typed_number_becomes_a_value(
    text: str, method: Method, measure: Measure, value: float
) -> None:
    assert read_value(text, method, measure) == pytest.approx(value, abs=5e-4)


@pytest.mark.parametrize("text", ["", "abc", "0", "0.0", "4 1", "-3", "4..1"])
def test_text_that_is_not_a_number_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="is not a number above 0. Type one such as 4.2"):
        read_value(text, Method(), JUMP)


def test_which_methods_a_measure_has() -> None:
    assert methods_for(JUMP) == ["value", "flight time"]
    assert methods_for(THROW) == ["value", "distance and time"]
    assert methods_for(SPRINT) == ["value"]


def test_another_method_or_device_is_pointed_out(store: Store) -> None:
    live_test_id = began(store, "A4", method=Method("value", "Mat"))
    type_in(store, live_test_id, "40")
    earlier = earlier_methods(store, "A4", "jump_height")
    assert words.other_methods("Four", Method("value", "mat"), earlier) == ""
    for other in (Method("flight time", "mat"), Method("value", "gates")):
        told = words.other_methods("Four", other, earlier)
        assert "Four was measured otherwise before: the value itself (Mat) in 1 session" in told


def test_a_test_keeps_the_rule_it_began_with(store: Store) -> None:
    live_test_id = began(store, "A1", stop=StopRule(0.95, 2))
    type_in(store, live_test_id, "40", "37", "37.5")
    one = seen(store, live_test_id).standings[0]
    assert one.is_over
    assert (
        words.stop_sentence(one, get_measure(store, "jump_height")).replace("\u00a0", " ")
        == "Long One: 37 cm and 37.5 cm, so 2 efforts in a row below 95 % of the best, 40 cm."
    )
