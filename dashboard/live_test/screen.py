"""The screen of a running test: one athlete's keypad, state and chart, and whose turn it is."""

from __future__ import annotations

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard.core.numbers import measured, percent
from dashboard.fits.curve_rows import curve_row
from dashboard.fits.usual_terms import responses
from dashboard.live_test import words
from dashboard.live_test.changes import show_changes
from dashboard.live_test.charts import efforts_figure
from dashboard.live_test.keys import (
    end_stopped,
    show_keys,
    show_take_back,
    show_take_back_and_end,
)
from dashboard.live_test.memory import (
    before_of,
    current_live_test,
    follow,
    goes_to_turn,
    has_changed,
    note_drawn,
    said,
)
from dashboard.live_test.rest import LEAST_MADE, efforts_left, rest_of, rest_words
from dashboard.live_test.results import show_results
from dashboard.live_test.state import LiveTest, Standing, next_turn, read_live_test
from dashboard.screen import elements, pictures
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from db.roster.measures import Measure

FOLLOW_SECONDS = 5.0


def show_live_test(live_test_id: int) -> None:
    """Show a live test in a fragment, so that a key press does not run the whole page again."""
    if ask(read_live_test, live_test_id) is None:
        st.info("There is no such test, or it is not yours to see.")
        _leave("To the list of tests")
        return
    _screen(live_test_id)
    _follow(live_test_id)
    _leave("To the list of tests")


@st.fragment
def _screen(live_test_id: int) -> None:
    require("director", "coach")
    now = current_live_test(live_test_id)
    note_drawn(live_test_id, _mark(now))
    here, measure = _choose(live_test_id, now), now.measure
    _show_notice(live_test_id, now)
    if not here.is_open:
        _show_ended(live_test_id, here, now)
        return
    keys, state = st.columns([2, 3])
    with keys:
        show_keys(live_test_id, here, measure)
    with state:
        show_take_back_and_end(live_test_id, here, now)
        _show_state(here, measure)
        ahead = st.empty()
        _show_chart(here, now)
    show_changes(live_test_id, here, now)
    # These come last, so that no key press waits for them.
    before_of(here, measure)
    _show_rest(ahead, here, measure)


def _show_notice(live_test_id: int, now: LiveTest) -> None:
    """Say in large letters who should stop, and below that what was done, in a fixed height.

    The sentences come below the buttons, so that they never move them.
    """
    told, good = said(live_test_id)
    with st.container(key="test_notice", gap="xxsmall"):
        if now.stopped:
            with st.container(
                key="test_stops", horizontal=True, vertical_alignment="center", gap="small"
            ):
                st.error(words.stop_headline(now.stopped))
                end_stopped(live_test_id, now.stopped)
        if not good:
            st.warning(told)
        elif told:
            elements.quiet(told)
        st.write(words.BOTH_CAN_STOP)
        for one in now.stopped:
            elements.quiet(words.stop_sentence(one, now.measure))


def _show_ended(live_test_id: int, here: Standing, now: LiveTest) -> None:
    """Show what an ended test showed, and offer to take back the value that ended it."""
    show_results(here, now.measure)
    if any(one.is_open for one in now.standings):
        st.write("Choose who goes on above.")
    entry = now.entry
    if entry and entry.session_id == here.session_id and here.can_open_again:
        show_take_back(live_test_id, now)


@st.fragment(run_every=FOLLOW_SECONDS)
def _follow(live_test_id: int) -> None:
    """Draw the screen again when another device has changed the test."""
    require("director", "coach")
    if has_changed(live_test_id, _mark(current_live_test(live_test_id))):
        follow(live_test_id)
        st.rerun()


def _mark(now: LiveTest) -> tuple[object, ...]:
    """Return a value that changes whenever the live test does."""
    return tuple(
        (one.is_open, *one.efforts[["value", "excluded"]].astype(str).to_numpy().ravel())
        for one in now.standings
    )


def _choose(live_test_id: int, now: LiveTest) -> Standing:
    """Return whose test is on the screen: whose turn it is, unless another was chosen."""
    everybody = now.standings
    by_session = {one.session_id: one for one in everybody}
    turn = next_turn(everybody) or next((one for one in everybody if one.is_open), everybody[0])
    if len(everybody) == 1:
        return turn
    key = f"turn_{live_test_id}"
    shown = st.session_state.get(key)
    # Set every time: a control that comes back to the page shows its remembered value.
    st.session_state[key] = turn.session_id if goes_to_turn(live_test_id, bool(shown)) else shown
    with st.container(key="test_turns"):
        chosen = st.segmented_control(
            "Whose turn",
            list(by_session),
            format_func=lambda session: _turn_label(by_session[session], turn),
            key=key,
            required=True,
            width="stretch",
            label_visibility="collapsed",
        )
    return by_session.get(chosen or turn.session_id, turn)


def _turn_label(one: Standing, turn: Standing) -> str:
    if not one.is_open:
        return f"{one.test['name']}: ended"
    if one.is_over:
        return f"{one.test['name']}: stop"
    return f"{'▶ ' if one is turn else ''}{one.test['name']}, {one.made}"


def _show_state(here: Standing, measure: Measure) -> None:
    state, rule = here.state, words.rule_of(here)
    last = "–" if not here.made else measured(here.efforts["value"].iloc[-1], measure.unit)
    best = "–" if state.best is None else measured(state.best, measure.unit)
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


def _show_rest(place: DeltaGenerator, here: Standing, measure: Measure) -> None:
    """Say what going on is expected to bring, unless the stop rule says stop."""
    if here.test["kind"] != "fade" or here.is_over or len(here.usable) < LEAST_MADE:
        return
    rest = ask(
        rest_of,
        measure,
        str(here.test["athlete"]),
        here.session_id,
        words.rule_of(here),
        efforts_left(here),
    )
    if rest is not None:
        place.markdown(rest_words(rest))


def _show_chart(here: Standing, now: LiveTest) -> None:
    """Show the efforts; an empty chart loads at the start, so that no effort waits for it."""
    measure = now.measure
    pictures.show(
        pictures.draw(
            efforts_figure,
            here.efforts[["effort", "value", "excluded"]],
            words.rule_of(here).share,
            measure.better == "higher",
            measure.unit,
            elements.screen_palette(),
        ),
        key=f"efforts_{here.session_id}",
        alt=words.chart_in_words(here, measure),
    )
    if not here.made:
        st.write(f"The first effort of {here.test['name']} comes next.")
    elements.quiet(_side_note(here, measure))


def _side_note(here: Standing, measure: Measure) -> str:
    """Return the model's note, worked out once so that no key press waits for it."""
    key, athlete = f"note_{here.session_id}", str(here.test["athlete"])
    if key not in st.session_state:
        row = curve_row(ask(responses, measure.code, athlete), athlete)
        st.session_state[key] = words.side_note(row, measure)
    return str(st.session_state[key])


def _leave(label: str) -> None:
    if st.button(label, key="leave_test"):
        st.query_params.pop("test", None)
        st.rerun()
