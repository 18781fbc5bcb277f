"""What a tester presses while a test runs: keypad, take back and end, which never move."""

from __future__ import annotations

import streamlit as st

from dashboard.core.numbers import measured
from dashboard.curve import mistyped
from dashboard.live_test import words
from dashboard.live_test.keypad import Asked, Question, Typed, just_accepted, show_keypad
from dashboard.live_test.memory import (
    answered,
    before_of,
    current_live_test,
    do,
    note_answered,
    put_question,
    question_about,
    unsay,
)
from dashboard.live_test.state import LiveTest, Standing, accept, read_value, volume_before
from dashboard.screen.access import require
from dashboard.screen.reads import own_store
from db.efforts.live_efforts import BY_THE_RULE, end_test, undo_effort
from db.errors import BadInput
from db.roster.measures import Measure


def show_keys(live_test_id: int, here: Standing, measure: Measure) -> None:
    """Show the keypad for the athlete on the screen; after the stop it takes no more numbers."""
    show_keypad(
        Asked(
            here.session_id,
            here.next_effort,
            words.keypad_label(here, measure),
            words.placeholder(here.method),
            answered(live_test_id),
            closed=here.is_over,
            question=question_about(here.session_id, here.next_effort),
        ),
        key=_keypad(live_test_id),
        on_accept=lambda typed: _accept(live_test_id, typed),
    )


def show_take_back_and_end(live_test_id: int, here: Standing, now: LiveTest) -> None:
    """Offer to take back the last effort and, away from that, to end the athlete's test."""
    first, second = st.columns(2)
    with first:
        show_take_back(live_test_id, now)
    with second, st.container(key="test_end"):
        st.selectbox(
            "End because",
            words.ENDED_BECAUSE,
            index=None,
            placeholder=BY_THE_RULE if here.is_over else "choose, if you like",
            key=f"end_why_{here.session_id}",
        )
        st.button(
            words.end(here),
            type="primary" if here.is_over else "secondary",
            key=f"end_{here.session_id}",
            width="stretch",
            on_click=_end,
            args=[live_test_id, here],
        )


def show_take_back(live_test_id: int, now: LiveTest) -> None:
    """Offer to take back the last effort, whoever's turn it is, and say which one it is.

    The one before it is never offered in the same place: a second tap would take that back too.
    """
    with st.container(key="test_take_back"):
        entry, one = now.entry, now.standing(now.entry.session_id) if now.entry else None
        if entry is None or one is None:
            st.button("Nothing to take back yet", disabled=True, width="stretch")
        elif entry.taken_back:
            gone = f"{measured(entry.value, now.measure.unit)} of {one.test['name']}"
            st.button(f"{gone} is taken back", disabled=True, width="stretch")
        elif not one.can_open_again:
            st.button(f"The test of {one.test['name']} is ended", disabled=True, width="stretch")
        else:
            take_back_button(live_test_id, one, entry.effort_id, entry.value, now.measure)


def take_back_button(
    live_test_id: int, one: Standing, effort_id: int, last: float, measure: Measure
) -> None:
    """Show the button that takes back a value.

    Each value has its own button, so a tap on an old screen never takes back a newer value.
    """
    st.button(
        words.take_back(one, last, measure),
        key=f"undo_{effort_id}",
        width="stretch",
        on_click=_undo,
        args=[live_test_id, one, effort_id, last, measure],
    )


def end_stopped(live_test_id: int, stopped: list[Standing]) -> None:
    """Offer to end the tests in which the stop rule says stop."""
    for one in stopped:
        st.button(
            words.end(one),
            key=f"stop_{one.session_id}",
            on_click=_end,
            args=[live_test_id, one, BY_THE_RULE],
        )


def _keypad(live_test_id: int) -> str:
    return f"keypad_{live_test_id}"


def _accept(live_test_id: int, typed: Typed) -> bool:
    """Store what was typed, or ask about it; tell whether it is stored, now or before."""
    person = require("director", "coach").person
    if typed.number == answered(live_test_id):  # Sent twice because the answer was slow.
        return True
    # Opens the file only once, and reads what the screen will show.
    with own_store().reading():
        now = current_live_test(live_test_id)
        one, measure = now.standing(typed.session_id), now.measure
        question = None if typed.sure else _question(one, typed, measure)
        put_question(typed.session_id, typed.effort, question)
        unsay(live_test_id)
        stored = question is None and do(
            live_test_id, lambda: _store(one, typed, measure, person), then_next=True
        )
        note_answered(live_test_id, typed.number)
        current_live_test(live_test_id)
    return stored


def _store(one: Standing, typed: Typed, measure: Measure, person: str) -> str:
    shown = accept(own_store(), one, typed.effort, typed.text, measure, person)
    return f"Stored: {one.test['name']}, effort {typed.effort}: {measured(shown, measure.unit)}"


def _question(one: Standing, typed: Typed, measure: Measure) -> Question | None:
    """Return what to ask about a number before it counts; None if it looks right."""
    if typed.effort != one.next_effort:
        return None
    try:
        shown = read_value(typed.text, one.method, measure)
    except BadInput:
        return None
    volume = volume_before(one, typed.effort, measure)
    doubted = mistyped.doubt(before_of(one, measure), measure, one.done, volume, shown)
    if doubted is None:
        return None
    seconds = "" if one.method.method == "value" else typed.text
    return Question(
        number=typed.number,
        typed=typed.text,
        text=f"{one.test['name']}: {mistyped.in_words(doubted, measure, seconds)}. Is it right?",
        sure=f"Yes, {measured(shown, measure.unit)} is right",
        again="No, type it again",
    )


# These read the latest input from the session: a click may come before the page has run again.


def _end(live_test_id: int, one: Standing, because: str | None = None) -> None:
    person = require("director", "coach").person
    chosen = because or st.session_state[f"end_why_{one.session_id}"]
    # Streamlit answers the button before the keypad, even if a number was accepted first. Store
    # that number now, because an ended test would refuse it.
    typed = just_accepted(_keypad(live_test_id))
    if typed is not None and not _accept(live_test_id, typed):
        return
    one = current_live_test(live_test_id).standing(one.session_id)

    def end() -> str:
        ended = chosen or (BY_THE_RULE if one.is_over else "")
        end_test(own_store(), one.session_id, ended, person)
        return f"The test of {one.test['name']} is ended."

    do(live_test_id, end, then_next=because is not None)


def _undo(live_test_id: int, one: Standing, effort_id: int, last: float, measure: Measure) -> None:
    person = require("director", "coach").person

    def undo() -> str:
        undo_effort(own_store(), one.session_id, effort_id, person)
        again = "" if one.is_open else ", and the test is open again"
        return f"{measured(last, measure.unit)} of {one.test['name']} is taken back{again}."

    do(live_test_id, undo, then_next=True)
