"""The screen of a test that runs: one athlete's keypad, state and chart, and whose turn it is."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from dashboard import page_parts, pictures, running_words
from dashboard.access import require
from dashboard.keypad import Asked, Typed, show_keypad
from dashboard.numbers import percent
from dashboard.reads import ask, own_store
from dashboard.round_results import show_results
from dashboard.running_test import Round, Standing, accept, next_turn, read_round, read_value
from dashboard.usual_terms import responses
from db.efforts import correct_effort, exclude_effort, include_effort
from db.errors import BadInput, StoreError
from db.measures import Measure
from db.running_tests import end_test, undo_effort

FOLLOW_SECONDS = 5.0
SPOILED_BECAUSE = ("slipped", "did not go all out", "was measured wrongly", "was disturbed")


def show_round(round_id: int) -> None:
    """Show a round of tests in a part of the page that runs again by itself."""
    if ask(read_round, round_id) is None:
        st.info("There is no such test, or it is not yours to see.")
        _leave("To the list of tests")
        return
    _screen(round_id)
    _follow(round_id)
    _leave("To the list of tests")


def _round(round_id: int) -> Round:
    """Return the round as it stands; athletes do not leave the sight of who began to look."""
    found = ask(read_round, round_id)
    if found is None:
        raise BadInput("This test is not yours to see any more.")
    return found


@st.fragment
def _screen(round_id: int) -> None:
    require("director", "coach")
    now = _round(round_id)
    st.session_state[_drawn(round_id)] = _mark(now)
    here, measure = _choose(round_id, now), now.measure
    _show_said(round_id)
    if not here.is_open:
        show_results(here, measure)
        if any(one.is_open for one in now.standings):
            st.write("Choose who goes on above.")
        return
    keys, state = st.columns([2, 3])
    with state:
        _show_state(here, measure)
        _show_chart(here, now)
    with keys:
        _show_keys(round_id, here, measure)
    _show_changes(round_id, here, measure)


@st.fragment(run_every=FOLLOW_SECONDS)
def _follow(round_id: int) -> None:
    """Draw the screen again when another device has changed the test."""
    require("director", "coach")
    drawn = st.session_state.get(_drawn(round_id))
    if drawn is not None and drawn != _mark(_round(round_id)):
        st.session_state[_to_turn(round_id)] = True
        st.rerun()


def _drawn(round_id: int) -> str:
    return f"drawn_{round_id}"


def _to_turn(round_id: int) -> str:
    return f"to_turn_{round_id}"


def _mark(now: Round) -> tuple[object, ...]:
    """Return what differs as soon as anything of a round does."""
    return tuple(
        (one.is_open, *one.efforts[["value", "excluded"]].astype(str).to_numpy().ravel())
        for one in now.standings
    )


def _choose(round_id: int, now: Round) -> Standing:
    """Return whose test is on the screen: whose turn it is, unless another was chosen."""
    everybody = now.standings
    by_session = {one.session_id: one for one in everybody}
    turn = next_turn(everybody) or next((one for one in everybody if one.is_open), everybody[0])
    if len(everybody) == 1:
        return turn
    key = f"turn_{round_id}"
    if st.session_state.pop(_to_turn(round_id), key not in st.session_state):
        st.session_state[key] = turn.session_id
    chosen = st.segmented_control(
        "Whose turn",
        list(by_session),
        format_func=lambda session: _turn_label(by_session[session], turn),
        key=key,
        required=True,
        width="stretch",
    )
    return by_session.get(chosen or turn.session_id, turn)


def _turn_label(one: Standing, turn: Standing) -> str:
    if not one.is_open:
        return f"{one.test['name']}: ended"
    if one.is_over:
        return f"{one.test['name']}: stop"
    return f"{'▶ ' if one is turn else ''}{one.test['name']}, {one.made}"


def _show_keys(round_id: int, here: Standing, measure: Measure) -> None:
    if here.is_over:
        st.error(running_words.stop_sentence(here, measure))
        return

    def on_accept(typed: Typed) -> None:
        person = require("director", "coach").person

        def store_it() -> str:
            one = _round(round_id).standing(typed.session_id)
            value = accept(own_store(), one, typed.effort, typed.text, measure, person)
            name = one.test["name"]
            return f"{name}, effort {typed.effort}: {running_words.value(value, measure)}"

        # All that follows opens the file once, and what is drawn then is read already.
        with own_store().reading():
            st.session_state[_to_turn(round_id)] = _do(round_id, store_it)
            _round(round_id)

    show_keypad(
        Asked(
            here.session_id,
            here.next_effort,
            running_words.keypad_label(here, measure),
            running_words.placeholder(here.method),
            st.session_state.get(f"answers_{round_id}", 0),
        ),
        key=f"keypad_{round_id}",
        on_accept=on_accept,
    )


def _do(round_id: int, action: Callable[[], str]) -> bool:
    """Do something to the test, and keep what is to be said of it for the next drawing."""
    answers = f"answers_{round_id}"
    st.session_state[answers] = st.session_state.get(answers, 0) + 1
    try:
        told, good = action(), True
    except StoreError as error:
        told, good = error.message, False
    st.session_state[f"said_{round_id}"] = (told, good)
    return good


def _show_said(round_id: int) -> None:
    told, good = st.session_state.get(f"said_{round_id}", ("", True))
    if told and good:
        page_parts.quiet(f"Stored: {told}")
    elif told:
        st.warning(told)


def _show_state(here: Standing, measure: Measure) -> None:
    state, rule = here.state, running_words.rule_of(here)
    last = "–" if not here.made else running_words.value(here.efforts["value"].iloc[-1], measure)
    best = "–" if state.best is None else running_words.value(state.best, measure)
    below = "–" if state.best is None else percent(state.below_best_pct)
    with st.container(horizontal=True):
        st.metric(f"Last, of {here.made}", last)
        st.metric("Best so far", best)
        st.metric("Below the best", below)
        if here.test["kind"] == "fade":
            st.metric(
                f"In a row under {percent(100 * rule.share, 0)}",
                f"{state.low_in_a_row} of {rule.in_a_row}",
            )


def _show_chart(here: Standing, now: Round) -> None:
    measure = now.measure
    if here.made:
        pictures.show(
            pictures.efforts_figure(
                here.efforts[["effort", "value", "excluded"]],
                running_words.rule_of(here).share,
                measure.better == "higher",
                measure.unit,
                page_parts.screen_palette(),
            ),
            key=f"efforts_{here.session_id}",
            alt=running_words.chart_in_words(here, measure),
        )
    else:
        st.write(f"The first effort of {here.test['name']} comes next. The chart grows here.")
    page_parts.quiet(_side_note(here, measure))


def _side_note(here: Standing, measure: Measure) -> str:
    """Return the model's note, asked for once: no key press waits for it."""
    key, athlete = f"note_{here.session_id}", str(here.test["athlete"])
    if key not in st.session_state:
        row = page_parts.row_of(ask(responses, measure.code, athlete), athlete)
        st.session_state[key] = running_words.side_note(row, measure)
    return str(st.session_state[key])


def _show_changes(round_id: int, here: Standing, measure: Measure) -> None:
    session = here.session_id
    st.write(running_words.BOTH_CAN_STOP)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.selectbox(
            "End because",
            running_words.ENDED_BECAUSE,
            index=None,
            placeholder=running_words.ENDED_BECAUSE[0] if here.is_over else "choose, if you like",
            key=f"end_why_{session}",
        )
        st.button(
            "End this test",
            type="primary" if here.is_over else "secondary",
            key=f"end_{session}",
            shortcut="Alt+E",
            on_click=_end,
            args=[round_id, here],
        )
        if here.made:
            last = int(here.efforts["effort"].iloc[-1])
            st.button(
                f"Take back effort {last}",
                key=f"undo_{session}",
                shortcut="Alt+U",
                help="It was never made: it does not count as volume, and is kept apart.",
                on_click=_undo,
                args=[round_id, here, last],
            )
    if here.made:
        with st.expander("Correct an effort, or mark it as spoiled"):
            _show_correction(round_id, here, measure)


# What was typed last is read from the session: a click may come before the page has run again.


def _end(round_id: int, here: Standing) -> None:
    because = st.session_state[f"end_why_{here.session_id}"]
    person = require("director", "coach").person

    def end() -> str:
        ended = because or (running_words.ENDED_BECAUSE[0] if here.is_over else "")
        end_test(own_store(), here.session_id, ended, person)
        return f"the test of {here.test['name']} is ended."

    _do(round_id, end)


def _undo(round_id: int, here: Standing, effort: int) -> None:
    person = require("director", "coach").person

    def undo() -> str:
        undo_effort(own_store(), here.session_id, effort, person)
        return f"effort {effort} of {here.test['name']} is taken back."

    _do(round_id, undo)


def _show_correction(round_id: int, here: Standing, measure: Measure) -> None:
    session = here.session_id
    rows = {int(row["effort_id"]): row for row in here.efforts.to_dict("records")}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        effort_id = st.selectbox(
            "Effort",
            list(reversed(rows)),
            format_func=lambda one: (
                f"{rows[one]['effort']}: {running_words.value(rows[one]['value'], measure)}"
            ),
            key=f"which_{session}",
        )
        st.text_input(
            f"Right value, {running_words.placeholder(here.method) or measure.unit}",
            key=f"right_{session}",
        )
        st.selectbox(
            "Reason",
            SPOILED_BECAUSE,
            index=None,
            accept_new_options=True,
            placeholder="choose, or type your own",
            key=f"reason_{session}",
        )
    page_parts.quiet(running_words.SPOILED)
    spoiled = isinstance(rows[effort_id]["excluded"], str)
    other = ("use", "Use it again") if spoiled else ("spoil", "Mark as spoiled")
    with st.container(horizontal=True):
        for act, label in (("correct", "Correct the value"), other):
            st.button(
                label,
                key=f"{act}_{session}",
                on_click=_change,
                args=[round_id, here, measure, act],
            )


def _change(round_id: int, here: Standing, measure: Measure, what: str) -> None:
    person = require("director", "coach").person
    effort_id, text, reason = (
        st.session_state[f"{field}_{here.session_id}"] for field in ("which", "right", "reason")
    )

    def change() -> str:
        store = own_store()
        if what == "correct":
            value = read_value(text, here.method, measure)
            correct_effort(store, effort_id, value, reason or "typed wrongly", person)
        elif what == "spoil":
            exclude_effort(store, effort_id, reason or "", person)
        else:
            include_effort(store, effort_id, reason or "marked by mistake", person)
        return f"an effort of {here.test['name']} is changed; what it was is kept."

    if _do(round_id, change):
        st.session_state[f"right_{here.session_id}"] = ""


def _leave(label: str) -> None:
    if st.button(label, key="leave_test"):
        st.query_params.pop("test", None)
        st.rerun()
