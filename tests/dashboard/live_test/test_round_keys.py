"""What a tester presses while a test runs: two athletes in turn, slips, stops, two devices."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from itertools import count

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.live_test import keys
from dashboard.live_test.keypad import Asked, Typed
from dashboard.screen.menu import file_of
from db.efforts.live_efforts import BY_THE_RULE, add_effort, end_test
from db.efforts.live_tests import efforts_in, open_tests, parts_in
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.file.store import Store
from tests.dashboard.conftest import SignIn, told

STORY = (("A1", 37.1), ("A2", 39.0), ("A1", 38.4), ("A2", 39.8), ("A1", 39.0))
"""Long One and Short Two in turn, before the slip."""


@pytest.fixture(autouse=True)
def plain_keypad(monkeypatch: pytest.MonkeyPatch) -> None:
    """Replace the keypad, whose script needs a browser, with a field and buttons of Streamlit."""
    numbers, sent = count(1), list[Typed]()

    def show(asked: Asked, key: str, on_accept: Callable[[Typed], None]) -> None:
        def accept(sure: bool) -> None:
            text = asked.question.typed if sure and asked.question else st.session_state["typed"]
            sent.append(Typed(text, asked.session_id, asked.effort, sure, str(next(numbers))))
            on_accept(sent[-1])

        st.text_input(asked.label, key="typed", disabled=asked.closed)
        st.button("Accept", key="accept", on_click=accept, args=[False])
        st.button("Send it again", key="again", on_click=lambda: on_accept(sent[-1]))
        if asked.question:
            st.write(asked.question.text)
            st.button(asked.question.sure, key="sure", on_click=accept, args=[True])

    monkeypatch.setattr(keys, "show_keypad", show)


def begun(store: Store, *codes: str, **more: object) -> int:
    tests = tuple(NewTest(code, {"pain": False}) for code in codes)
    plain = {"method": Method(), "stop": StopRule(0.9, 3), "measure": "jump_height"}
    started_at = datetime(2026, 11, 28, 10)
    return begin_live_test(
        store, NewLiveTest(tests=tests, started_at=started_at, **plain | more), "carl"
    )


def enter(store: Store, live_test_id: int, *entries: tuple[str, float]) -> None:
    """Save efforts without the page, in the order they were made."""
    sessions = parts_in(store, live_test_id).set_index("athlete")["session_id"]
    made = efforts_in(store, live_test_id).groupby("session_id").size().to_dict()
    for code, value in entries:
        session = int(sessions[code])
        made[session] = made.get(session, 0) + 1
        add_effort(store, session, made[session], value, made[session] - 1, "carl")


def opened(sign_in: SignIn, store: Store, live_test_id: int, name: str = "carl") -> AppTest:
    page = sign_in(store, name)
    page.query_params["test"] = str(live_test_id)
    return page.switch_page(file_of("run_test")).run()


def accept(page: AppTest, text: str) -> AppTest:
    page.text_input(key="typed").set_value(text)
    return page.button(key="accept").click().run()


def labels(page: AppTest, word: str) -> list[str]:
    """Return the labels of enabled buttons that contain a word."""
    plain = [(one.label.replace("\u00a0", " "), one.disabled) for one in page.button]
    return [label for label, disabled in plain if word in label and not disabled]


def press(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label.replace("\u00a0", " ") == label).click().run()


def values(store: Store, live_test_id: int) -> list[float]:
    return sorted(efforts_in(store, live_test_id)["value"])


def test_a_slip_is_asked_about_and_then_taken_back_by_name(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    enter(filled_store, live_test_id, *STORY)
    page = accept(opened(sign_in, filled_store, live_test_id), "93.6")
    question = "Short Two: 93.6 cm is more than twice the 39.8 cm before. Is it right?"
    assert question in told(page)
    assert 93.6 not in values(filled_store, live_test_id), "asked about before it counts"
    page.button(key="sure").click().run()
    assert "Stored: Short Two, effort 3: 93.6 cm" in told(page) and question not in told(page)
    assert page.text_input(key="typed").label == "Long One, effort 4, in cm"
    assert labels(page, "Take back")[0] == "Take back 93.6 cm of Short Two"
    press(page, "Take back 93.6 cm of Short Two")
    assert values(filled_store, live_test_id) == sorted(value for _, value in STORY)
    assert "93.6 cm of Short Two is taken back." in told(page)
    assert page.text_input(key="typed").label == "Short Two, effort 3, in cm"


@pytest.mark.parametrize(("text", "ends"), [("39.4", True), ("93.6", False)])
def test_a_number_accepted_just_before_the_end_is_saved_or_asked_about(
    filled_store: Store,
    sign_in: SignIn,
    monkeypatch: pytest.MonkeyPatch,
    text: str,
    ends: bool,
) -> None:
    live_test_id = begun(filled_store, "A1")
    enter(filled_store, live_test_id, ("A1", 39.0), ("A1", 39.8))
    page = opened(sign_in, filled_store, live_test_id)
    session = int(parts_in(filled_store, live_test_id)["session_id"].iloc[0])
    # Streamlit handles a button before a message from a component with its own script.
    accepted = Typed(text, session, 3, sure=False, number="sent with the press")
    monkeypatch.setattr(keys, "just_accepted", lambda key: accepted)
    press(page, "End the test of Long One")
    assert (float(text) in values(filled_store, live_test_id)) is ends
    assert open_tests(filled_store).empty is ends
    assert ("Is it right?" in told(page)) is not ends


def test_a_second_tap_takes_back_nothing_and_the_athletes_last_value_has_its_own_button(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    enter(filled_store, live_test_id, *STORY, ("A2", 93.6))
    page = press(opened(sign_in, filled_store, live_test_id), "Take back 93.6 cm of Short Two")
    gone = next(b for b in page.button if "is taken back" in b.label)
    assert gone.disabled and gone.label.replace("\u00a0", " ").startswith("93.6 cm of Short Two")
    # The last value of the athlete on the screen is offered separately.
    assert labels(page, "Take back") == ["Take back 39.8 cm of Short Two"]
    press(page, "Take back 39.8 cm of Short Two")
    assert values(filled_store, live_test_id) == [37.1, 38.4, 39.0, 39.0]
    assert labels(page, "Take back") == ["Take back 39 cm of Short Two"]
    long_one = int(parts_in(filled_store, live_test_id)["session_id"].iloc[0])
    page.button_group[0].set_value(long_one)
    page.run()
    assert labels(page, "Take back") == ["Take back 39 cm of Long One"]


def test_a_number_sent_twice_does_not_change_the_chosen_athlete(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    page = accept(opened(sign_in, filled_store, live_test_id), "38.1")
    [turns] = [each for each in page.button_group if each.key == f"turn_{live_test_id}"]
    first, second = parts_in(filled_store, live_test_id)["session_id"].tolist()
    assert turns.value == second, "the other athlete's turn"
    turns.set_value(first).run()
    page.button(key="again").click().run()
    [turns] = [each for each in page.button_group if each.key == f"turn_{live_test_id}"]
    assert turns.value == first, "who was chosen stays"
    assert len(efforts_in(filled_store, live_test_id)) == 1


def test_it_says_who_already_took_a_value_back_on_another_device(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    enter(filled_store, live_test_id, *STORY, ("A2", 93.6))
    first = opened(sign_in, filled_store, live_test_id)
    second = opened(sign_in, filled_store, live_test_id, "dora")
    press(first, "Take back 93.6 cm of Short Two")
    enter(filled_store, live_test_id, ("A2", 39.4))
    press(second, "Take back 93.6 cm of Short Two")
    assert second.warning[0].value == "93.6 of Short Two was taken back already, by carl."
    assert 39.4 in values(filled_store, live_test_id), "nor is what came in its place"


def test_the_stop_of_one_athlete_shows_while_the_other_goes_on(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    low = [("A2", value) for value in (34.0, 33.8, 33.6)]
    enter(filled_store, live_test_id, *STORY, *low)
    page = opened(sign_in, filled_store, live_test_id)
    for said in ("Stored: Long One, effort 4: 39.2 cm", "Stored: Long One, effort 5: 39.2 cm"):
        assert page.error[0].value == "Stop, Short Two"
        assert page.text_input(key="typed").label.startswith("Long One, effort")
        assert said in told(accept(page, "39.2"))
    again = opened(sign_in, filled_store, live_test_id, "dora")
    assert again.error[0].value == "Stop, Short Two", "on any device, and after a reload"
    press(again, "End the test of Short Two")
    assert not again.error
    assert open_tests(filled_store)["athlete"].tolist() == ["A1"]
    assert parts_in(filled_store, live_test_id)["ended_because"].tolist()[1] == BY_THE_RULE


def test_taking_back_what_stopped_a_test_lets_it_go_on(
    filled_store: Store, sign_in: SignIn
) -> None:
    """This holds before the test was ended, and after it."""
    live_test_id = begun(filled_store, "A2")
    enter(filled_store, live_test_id, *[("A2", value) for value in (40.0, 34.0, 33.8, 33.6)])
    page = opened(sign_in, filled_store, live_test_id)
    assert page.text_input(key="typed").disabled
    assert page.text_input(key="typed").label == "Short Two: stop after 4 efforts"
    press(page, "Take back 33.6 cm of Short Two")
    assert not page.error and not page.text_input(key="typed").disabled
    accept(page, "33.5")
    page.button(key=f"end_{int(open_tests(filled_store)['session_id'].iloc[0])}").click().run()
    assert open_tests(filled_store).empty
    press(page, "Take back 33.5 cm of Short Two and open the test again")
    assert "33.5 cm of Short Two is taken back, and the test is open again." in told(page)
    assert page.text_input(key="typed").label == "Short Two, effort 4, in cm"


def test_a_test_that_ended_for_another_reason_stays_ended(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1", "A2")
    enter(filled_store, live_test_id, *STORY)
    end_test(filled_store, int(open_tests(filled_store)["session_id"][0]), "it was enough", "carl")
    page = opened(sign_in, filled_store, live_test_id)
    assert labels(page, "Take back") == ["Take back 39.8 cm of Short Two"]
    assert "The test of Long One is ended" in [b.label for b in page.button if b.disabled]


def test_a_correction_far_from_the_other_values_is_asked_about_too(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1")
    enter(filled_store, live_test_id, ("A1", 37.1), ("A1", 38.4))
    page = opened(sign_in, filled_store, live_test_id)
    session = int(open_tests(filled_store)["session_id"].iloc[0])
    for expected in ([37.1, 38.4], [37.1, 83.4]):
        page.text_input(key=f"right_{session}").set_value("83.4")
        page.button(key=f"correct_{session}").click().run()
        assert values(filled_store, live_test_id) == expected
    assert "An effort of Long One is changed" in told(page)


@pytest.mark.parametrize(
    ("measure", "method", "first", "slip", "question"),
    [
        ("sprint_10m", Method(), 1.84, "1.28", "1.28 s is 30 % below the 1.84 s before"),
        (
            "jump_height",
            Method("flight time"),
            39.8,
            "0.75",
            "0.75 s gives 68.95 cm, 73 % above the 39.8 cm before",
        ),
        (
            "throw_speed",
            Method("distance and time", distance_m=10.0),
            25.0,
            "0.24",
            "0.24 s gives 41.67 m/s, 67 % above the 25 m/s before",
        ),
    ],
)
def test_a_slip_is_asked_about_with_every_way_of_measuring(
    unfitted_store: Store,
    sign_in: SignIn,
    measure: str,
    method: Method,
    first: float,
    slip: str,
    question: str,
) -> None:
    """Without curves, a value is compared with the effort before."""
    live_test_id = begun(unfitted_store, "A1", measure=measure, method=method)
    enter(unfitted_store, live_test_id, ("A1", first))
    page = accept(opened(sign_in, unfitted_store, live_test_id), slip)
    assert f"Long One: {question}. Is it right?" in told(page)
    page.button(key="sure").click().run()
    assert len(values(unfitted_store, live_test_id)) == 2


def test_an_impossible_value_is_refused_and_not_asked_about(
    filled_store: Store, sign_in: SignIn
) -> None:
    live_test_id = begun(filled_store, "A1")
    page = accept(opened(sign_in, filled_store, live_test_id), "400")
    assert "400 cannot be a value of jump height" in page.warning[0].value
    assert "Is it right?" not in told(page)
    page = accept(page, "140")
    assert "Is it right?" in told(page) and not page.warning, "one thing is said at a time"
