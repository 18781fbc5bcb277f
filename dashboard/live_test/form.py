"""The form before a test: who, what, how it is measured, and that each athlete may be tested."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

import streamlit as st

from dashboard.core import cautions, terms
from dashboard.curve.mistyped import be_sure, volume_doubts
from dashboard.live_test import words
from dashboard.live_test.cautions import Against, show_cautions
from dashboard.live_test.state import methods_for
from dashboard.rules import match_days, protocol_words
from dashboard.rules.club_limits import mosts_by_athlete
from dashboard.rules.stop_rules import (
    rule_of_worse,
    rule_words,
    set_stop_rule,
    stop_rule,
    worse_pct,
)
from dashboard.rules.test_days import athlete_days, most_of_measure, most_sentence
from dashboard.rules.typed_efforts import TIME_UNITS
from dashboard.screen import selection
from dashboard.screen.reads import ask, own_store
from db.efforts.live_tests import earlier_methods
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.errors import StoreError
from db.people.accounts import Person
from db.roster.measures import Measure
from db.roster.protocols import protocol_of
from db.roster.statuses import set_status
from db.tables.cells import LIMITS

KINDS = {"fade": "Fade test, to the stop rule", "routine": "Efforts after a warm-up"}
SHARED_FACTS = {
    "ambient_c": "Temperature, °C",
    "general_minutes": "General warm-up, minutes",
    "rest_minutes": "Rest since then, minutes",
}
SCALES = ("freshness", "joints", "mobility")
PAIN = ("No pain", "Pain")
CHOSEN = "test_athletes"
BEGIN = "Begin the test"


def show_begin(person: Person, names: Mapping[str, str], measures: Mapping[str, Measure]) -> None:
    """Ask for what a live test needs, and begin it."""
    with st.container(horizontal=True):
        all_of_them = {code: measure.name for code, measure in measures.items()}
        measure = measures[selection.choose("Measure", all_of_them, "measure")]
        kind = _choose_kind(measure)
    chosen = selection.choose_several(
        "Athletes, in the order of turns",
        names,
        CHOSEN,
        "Choose one, or several who take turns",
    )
    method = _ask_method(measure)
    _show_other_methods(chosen, names, measure, method)
    facts, first_volume = _ask_facts(measure, kind)
    known = ask(athlete_days)
    tests = [
        _ask_athlete(athlete, names[athlete], known[athlete].around(date.today()), facts)
        for athlete in chosen
    ]
    rule, now = ask(stop_rule, measure), datetime.now().replace(microsecond=0)
    mosts = ask(mosts_by_athlete, measure, tuple(chosen))
    timed = measure.volume_unit in TIME_UNITS
    against = show_cautions(chosen, names, measure, kind, facts, now)
    tests = [
        replace(
            test,
            most_efforts=None if timed else mosts[test.athlete].in_test,
            reason=against.reason if test.athlete in against.whom else "",
            build_up_efforts=against.build_up_efforts,
        )
        for test in tests
    ]
    by_name = None if timed else {names[code]: most.in_test for code, most in mosts.items()}
    confirmed = _confirm(measure, rule if kind == "fade" else None, by_name)
    if not st.button(BEGIN, type="primary", key="test_begin", width="stretch"):
        return
    if confirmed and not any(test.facts["pain"] is None for test in tests):
        _set_out(person, [test.athlete for test in tests if test.facts["pain"]])
    able = tuple(test for test in tests if test.facts["pain"] is False)
    missing = _what_is_missing(tests, against, confirmed)
    if missing:
        st.error(missing)
        return
    _begin(
        NewLiveTest(
            measure=measure.code,
            started_at=now,
            tests=able,
            method=method,
            stop=rule,
            kind=kind,
            first_volume=first_volume,
        ),
        measure,
        person,
    )


def _show_other_methods(
    chosen: Sequence[str], names: Mapping[str, str], measure: Measure, method: Method
) -> None:
    """Warn about athletes whose earlier sessions were measured in another way."""
    for athlete in chosen:
        warning = words.other_methods(
            names[athlete], method, ask(earlier_methods, athlete, measure.code)
        )
        if warning:
            st.warning(warning)


def _confirm(measure: Measure, rule: StopRule | None, mosts: Mapping[str, int] | None) -> bool:
    """Say what will be done, when it stops and how many efforts it may have; ask for a tick."""
    with st.container(border=True):
        if rule is not None:
            st.write(f"Maximal efforts, one after another: {rule_words(rule, measure)}.")
        st.write(protocol_words.whole_line(ask(protocol_of, measure)))
        if mosts is not None:
            st.write(most_sentence(measure, mosts, ask(most_of_measure, measure)))
        st.write(" ".join([words.BOTH_CAN_STOP, *cautions.CAUTIONS[2:4]]))
        return st.checkbox(f"I confirm: {words.CONFIRM}", key="test_confirmed")


def _set_out(person: Person, athletes: Sequence[str]) -> None:
    """Take athletes with pain out of warm-ups and tests until somebody says otherwise."""
    for athlete in athletes:
        set_status(own_store(), athlete, "out", date.today(), words.PAIN_BEFORE_TEST, person.person)


def _what_is_missing(tests: Sequence[NewTest], against: Against, confirmed: bool) -> str:
    """Return what is still missing before the live test can begin; empty if nothing is."""
    able = [test for test in tests if test.facts["pain"] is False]
    if not tests:
        return "Choose at least one athlete first."
    if any(test.facts["pain"] is None for test in tests):
        return 'Answer "Pain?" for each athlete.'
    if not able:
        return "Nobody is left to test: each athlete has pain."
    if any(test.athlete in against.whom for test in able) and not against.reason.strip():
        return "Say why you test all the same, or test on another day. Nothing typed is lost."
    if not confirmed:
        return "Confirm first that each athlete may be tested. Nothing typed is lost."
    return ""


def _begin(new: NewLiveTest, measure: Measure, person: Person) -> None:
    try:
        athletes = [test.athlete for test in new.tests]
        doubts = volume_doubts(own_store(), measure, athletes, new.first_volume)
        be_sure("test_sure", (new.first_volume, *athletes), doubts, BEGIN)
        live_test_id = begin_live_test(own_store(), new, person.person)
    except StoreError as error:
        st.error(f"{error.title}. {error.message} What was typed is still there.")
        return
    del st.session_state[CHOSEN]  # The next test is for other athletes.
    st.query_params.from_dict({"test": str(live_test_id)})
    st.rerun()


def _choose_kind(measure: Measure) -> str:
    # If volume is in minutes, the number of the effort does not give it, so no fade tests.
    timed = measure.volume_unit in TIME_UNITS
    kinds = {kind: label for kind, label in KINDS.items() if kind == "routine" or not timed}
    return selection.choose(
        "Kind", kinds, "test_kind", meaning=terms.explained("fade test, routine session")
    )


def _ask_method(measure: Measure) -> Method:
    with st.container(horizontal=True):
        method = st.selectbox(
            "What is typed",
            methods_for(measure),
            format_func=lambda method: words.METHOD_NAMES[method],
            key="test_method",
        )
        distance = None
        if method == "distance and time":
            distance = st.number_input(
                "Distance, m", min_value=0.1, max_value=1000.0, value=10.0, key="test_distance"
            )
        device = st.text_input(
            "Measured with (in your words)",
            key="test_device",
            max_chars=80,
            placeholder="such as mat, or gates 10 m",
            persist_state="session",
        )
    return Method(method, device, distance)


def _ask_facts(measure: Measure, kind: str) -> tuple[dict[str, float | None], float]:
    with st.container(horizontal=True):
        facts = {
            fact: st.number_input(label, *_limits(fact), value=None, key=f"test_{fact}")
            for fact, label in SHARED_FACTS.items()
        }
        first_volume = 0.0
        if kind == "routine":
            first_volume = st.number_input(
                f"{measure.volume_unit.capitalize()} done before the first",
                *_limits("volume_before"),
                value=_asked_volume(),
                step=1.0,
                key="test_first_volume",
            )
    return facts, first_volume


def _asked_volume() -> float:
    """Return the volume in the page's address, within the limits; 0 if there is none."""
    asked, (_, highest) = st.query_params.get("test_volume", ""), _limits("volume_before")
    return min(float(asked), highest) if asked.isdecimal() else 0.0


def _limits(fact: str) -> tuple[float, float]:
    """Return the limits of a fact as numbers that may have decimals."""
    lowest, highest = LIMITS[fact]
    return float(lowest), float(highest)


def _ask_athlete(
    athlete: str, name: str, around: str, shared: Mapping[str, float | None]
) -> NewTest:
    with st.container(border=True):
        st.markdown(f"**{name}** {around}", help=match_days.MEANING if around else None)
        with st.container(horizontal=True):
            pain = st.segmented_control("Pain", PAIN, key=f"test_pain_{athlete}")
            scales = {
                scale: st.number_input(
                    f"{scale.capitalize()}, 0 to 10", 0, 10, None, key=f"test_{scale}_{athlete}"
                )
                for scale in SCALES
            }
        if pain == "Pain":
            st.error(words.PAIN.format(name=name))
    told = None if pain is None else pain == "Pain"
    return NewTest(athlete, {**shared, **scales, "pain": told})


def show_stop_setting(person: Person, measures: Mapping[str, Measure]) -> None:
    """Let a director set the stop rule of each measure."""
    with st.expander("The stop rule of fade tests"):
        code = st.selectbox(
            "Of", list(measures), format_func=lambda code: measures[code].name, key="stop_measure"
        )
        measure = measures[code]
        now = ask(stop_rule, measure)
        how = "slower than the best" if measure.better == "lower" else "below the best"
        with st.form(f"stop_rule_{code}", border=False):
            st.write(
                "Three in a row: 10\u00a0% below the best in jumps, 5\u00a0% in throws, 4\u00a0%"
                " slower in sprints (common practice, no source). A test that runs keeps the rule"
                " it was begun with."
            )
            worse = st.number_input(
                f"Low is an effort more than so much {how}, %",
                1.0,
                50.0,
                round(worse_pct(now, measure), 1),
                0.5,
                "%g",
            )
            in_a_row = st.number_input("How many in a row", 1, 20, now.in_a_row)
            if st.form_submit_button("Set the stop rule"):
                rule = rule_of_worse(worse, int(in_a_row), measure)
                set_stop_rule(own_store(), measure, rule, person.person)
                st.success(f"From now on, tests {rule_words(rule, measure)}.")
