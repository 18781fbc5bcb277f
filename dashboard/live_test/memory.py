"""What a window remembers of a live test between runs: notices, questions and whose turn it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.curve.mistyped import before_session
from dashboard.live_test.keypad import Question
from dashboard.live_test.state import LiveTest, Standing, read_live_test
from dashboard.screen.reads import ask
from db.errors import BadInput, StoreError
from db.roster.measures import Measure

if TYPE_CHECKING:
    from modeling.day.next_value import Before


def current_live_test(live_test_id: int) -> LiveTest:
    """Return the live test as it is now.

    Raises
    ------
    BadInput
        If it is no longer in sight of the person who looks at it.
    """
    found = ask(read_live_test, live_test_id)
    if found is None:
        raise BadInput("This test is not yours to see any more.")
    return found


def do(live_test_id: int, action: Callable[[], str], then_next: bool = False) -> bool:
    """Do something to the test, and remember what to say about it the next time it is drawn.

    `action` returns the words; with `then_next`, the screen moves on to whose turn it is if the
    action worked.
    """
    try:
        told, good = action(), True
    except StoreError as error:
        told, good = error.message, False
    st.session_state[_key("said", live_test_id)] = (told, good)
    if good and then_next:
        st.session_state[_key("to_turn", live_test_id)] = True
    return good


def note_answered(live_test_id: int, number: str) -> None:
    """Remember which message of the keypad was answered last."""
    st.session_state[_key("answered", live_test_id)] = number


def answered(live_test_id: int) -> str:
    """Return the number of the keypad's message that was answered last; empty before the first."""
    return str(st.session_state.get(_key("answered", live_test_id), ""))


def said(live_test_id: int) -> tuple[str, bool]:
    """Return what to say about the last action, and whether it worked."""
    told, good = st.session_state.get(_key("said", live_test_id), ("", True))
    return str(told), bool(good)


def unsay(live_test_id: int) -> None:
    """Stop showing what was said last."""
    st.session_state.pop(_key("said", live_test_id), None)


def follow(live_test_id: int) -> None:
    """Show whose turn it is the next time the screen is drawn: another device has gone on."""
    st.session_state[_key("to_turn", live_test_id)] = True


def goes_to_turn(live_test_id: int, shown_before: bool) -> bool:
    """Tell, once, whether to show whose turn it is; true the first time the screen is drawn."""
    return bool(st.session_state.pop(_key("to_turn", live_test_id), not shown_before))


def note_drawn(live_test_id: int, mark: object) -> None:
    """Remember the state that the screen was drawn from."""
    st.session_state[_key("drawn", live_test_id)] = mark


def has_changed(live_test_id: int, mark: object) -> bool:
    """Tell whether the live test has changed since the screen was drawn."""
    drawn = st.session_state.get(_key("drawn", live_test_id))
    return drawn is not None and drawn != mark


def question_about(session_id: int, effort: int) -> Question | None:
    """Return the open question about the number that was typed for an effort."""
    kept: tuple[int, Question] | None = st.session_state.get(_key("question", session_id))
    return kept[1] if kept is not None and kept[0] == effort else None


def put_question(session_id: int, effort: int, question: Question | None) -> None:
    """Ask about the number that was typed for an effort, or stop asking."""
    st.session_state[_key("question", session_id)] = (effort, question) if question else None


def before_of(one: Standing, measure: Measure) -> Before:
    """Return what is known about the athlete from earlier sessions, read once per window."""
    key = _key("before", one.session_id)
    if key not in st.session_state:
        athlete = str(one.test["athlete"])
        st.session_state[key] = ask(before_session, measure, athlete, one.session_id)
    known: Before = st.session_state[key]
    return known


def _key(what: str, number: int) -> str:
    return f"{what}_{number}"
