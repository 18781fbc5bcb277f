"""Plain sentences for a running test and for what it showed."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import (
    Row,
    chance,
    counted,
    estimated_volume,
    evidence,
    listed,
    measured,
    number,
    percent,
)
from dashboard.live_test.state import Standing
from dashboard.rules.stop_rules import low_words
from db.efforts.live_efforts import BY_THE_RULE
from db.efforts.new_rounds import Method, StopRule
from db.roster.measures import Measure

BOTH_CAN_STOP = (
    "You can always stop, and so can the athlete. Pain, dizziness or loss of landing control:"
    " stop, whatever the screen says."
)
CONFIRM = (
    "each athlete is cleared, uninjured and without pain, knows the movement and is supervised;"
    " nobody is ill, has had a head knock, or is in a return-to-play plan without medical"
    " sign-off."
)
PAIN = (
    "With pain there is no test of maximal efforts today. {name} sees the medical staff; follow"
    " your local rules. The others can be tested. When they begin, {name} is set to out, until"
    " staff lift it on the page 'Athlete'."
)
SPOILED = (
    "A spoiled effort is passed over by the stop rule: it is neither the best nor low. It was"
    " made all the same, so it counts as volume."
)
NEVER_MADE = (
    "An effort that you take back counts as never made: it adds no volume, and stays on record."
)
PAIN_BEFORE_TEST = "pain before a test"
ENDED_BECAUSE = (
    BY_THE_RULE,
    "the tester stopped",
    "the athlete stopped",
    "of pain or feeling unwell",
    "enough is known for the advice",
)
UNWELL = (
    "The athlete sees the medical staff before any further maximal effort; follow your local rules."
)
METHOD_NAMES = {
    "value": "The value itself",
    "flight time": "Flight time in seconds",
    "distance and time": "Time in seconds over a distance",
}


def rule_of(one: Standing) -> StopRule:
    """Return the stop rule that a test was begun with."""
    return StopRule(float(one.test["stop_share"]), int(one.test["stop_in_a_row"]))


def keypad_label(one: Standing, measure: Measure) -> str:
    """Return what to type: whose effort, which one, and in which unit."""
    if one.is_over:
        return f"{one.test['name']}: stop after {counted(one.made, 'effort')}"
    unit = measure.unit if one.method.method == "value" else "seconds"
    return f"{one.test['name']}, effort {one.next_effort}, in {unit}"


def placeholder(method: Method) -> str:
    """Return what the empty field says."""
    if method.method == "distance and time" and method.distance_m is not None:
        return f"seconds over {number(method.distance_m)} m"
    return "seconds in the air" if method.method == "flight time" else ""


def stop_headline(stopped: Sequence[Standing]) -> str:
    """Return who should stop."""
    return f"Stop, {listed([str(one.test['name']) for one in stopped])}"


def stop_sentence(one: Standing, measure: Measure) -> str:
    """Return why the test is over: the low efforts and the best, or the most in one test."""
    if not one.state.over or one.test["kind"] != "fade":
        return (
            f"{one.test['name']}: {number(one.test['most_efforts'])} {measure.volume_unit} are the"
            " most in one test."
        )
    low = [measured(each, measure.unit) for each in one.usable[-one.state.low_in_a_row :]]
    stop = rule_of(one)
    return (
        f"{one.test['name']}: {listed(low)}, so {counted(len(low), 'effort')} in a row"
        f" {low_words(stop, measure)}, {measured(one.state.best or 0.0, measure.unit)}."
    )


def take_back(one: Standing, last: float, measure: Measure) -> str:
    """Return what a button takes back: which value, and whose."""
    again = "" if one.is_open else " and open the test again"
    return f"Take back {measured(last, measure.unit)} of {one.test['name']}{again}"


def end(one: Standing) -> str:
    """Return whose test a button ends."""
    return f"End the test of {one.test['name']}"


def chart_in_words(one: Standing, measure: Measure) -> str:
    """Return the text equivalent of the chart of efforts."""
    if not one.made:
        return f"No effort of {one.test['name']} yet."
    rows = one.efforts.to_dict("records")
    told = [
        f"{row['effort']}: {measured(row['value'], measure.unit)}"
        + ("" if pd.isna(row["excluded"]) else f", spoiled ({row['excluded']})")
        for row in rows
    ]
    return f"Efforts of {one.test['name']}, {'; '.join(told)}."


def side_note(row: Row | None, measure: Measure) -> str:
    """Return what the model expects, for information only: the stop rule does not use it."""
    if row is None or not row["sessions"]:
        return "The model knows nothing of this athlete yet; this test tells it the most."
    return (
        f"For information only: the model expects the best after {estimated_volume(row)}"
        f" {measure.volume_unit}, from {evidence(row)}."
    )


def other_methods(name: str, method: Method, earlier: pd.DataFrame) -> str:
    """Return a warning if an athlete's series would mix methods or devices, else nothing."""
    others = [
        row
        for row in earlier.to_dict("records")
        if (row["method"], row["device"].casefold())
        != (method.method, method.device.strip().casefold())
    ]
    if not others:
        return ""
    said = "; ".join(
        f"{_method(row['method'], row['device'])} in {counted(int(row['sessions']), 'session')},"
        f" last on {dates.day(row['last_session'], 'long')}"
        for row in others
    )
    now = _method(method.method, method.device)
    return (
        f"{name} was measured otherwise before: {said}. Now: {now}."
        " Values of different methods or devices do not compare: keep to one, or expect a jump in"
        " the athlete's level that is no change in form."
    )


def _method(method: str, device: str) -> str:
    return f"{METHOD_NAMES[method].lower()}" + (f" ({device})" if device else "")


def fade_sentence(one: Standing) -> str:
    """Return after how many efforts the test was over, or how far it went."""
    spoiled = one.made - len(one.usable)
    besides = f", {spoiled} of them spoiled" if spoiled else ""
    if one.test["kind"] == "fade" and one.state.over:
        return (
            f"Efforts to fade: {one.made}{besides}. Efforts that were made count, spoiled or not."
        )
    because = one.test["ended_because"]
    why = f" Ended because {because}." if isinstance(because, str) else ""
    if one.test["kind"] != "fade":
        return f"{counted(one.made, 'effort')} made{besides}.{why}"
    return f"No fade within {counted(one.made, 'effort')}{besides}.{why}"


def noise_sentence(false_stop: float, low: float, noise_pct: float, one: Standing) -> str:
    """Return how often noise alone would have stopped the test by now."""
    stop = rule_of(one)
    return (
        f"The chance that noise alone stops such a test within {counted(len(one.usable), 'effort')}"
        f" although nothing fades: {chance(false_stop)}, at this athlete's own effort noise of"
        f" {percent(noise_pct)}. That the last one alone is below"
        f" {percent(100 * stop.share, 0)} of the best by noise: {chance(low)}."
    )


def begun(tests: Sequence[Row]) -> str:
    """Return who began a live test and when, and how far it has got."""
    names = listed(
        [f"{test['name']} ({counted(int(test['efforts']), 'effort')})" for test in tests]
    )
    first = tests[0]
    return f"{names}. Begun by {first['person']}, {dates.moment(first['started_at'], 'long')}."
