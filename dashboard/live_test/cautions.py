"""Warnings and questions before a test that protect the athlete, and their settings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import streamlit as st

from dashboard.rules import test_days, weather_words
from dashboard.screen import elements
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.measures import Measure, kind_of_effort
from db.tables.cells import LEAST_GENERAL_MINUTES
from modeling.day.caution import WeekRule

NO_GENERAL = "no general warm-up is planned"
SHORT_GENERAL = f"the general warm-up has less than {LEAST_GENERAL_MINUTES:g} minutes"
NO_BUILD_UP = "no submaximal build-up is planned"
USUAL_BUILD_UP = 3
MOST_BUILD_UP = 20


@dataclass(frozen=True)
class Against:
    """Athletes whom it would be better not to test now, and why they are tested anyway.

    `build_up_efforts` come before the first maximal effort.
    """

    whom: frozenset[str] = frozenset()
    reason: str = ""
    build_up_efforts: int = USUAL_BUILD_UP


def show_cautions(
    chosen: Sequence[str],
    names: Mapping[str, str],
    measure: Measure,
    kind: str,
    facts: Mapping[str, float | None],
    now: datetime,
) -> Against:
    """Show the warnings before a test; if something speaks against it, ask why it is done."""
    known, rule = ask(test_days.athlete_days, measure), ask(test_days.week_rule)
    st.write(test_days.BUILD_UP)
    build_up = int(
        st.number_input(
            "Submaximal build-up efforts, before the first maximal one",
            0,
            MOST_BUILD_UP,
            USUAL_BUILD_UP,
            key="test_build_up",
            help="From easy to nearly full: three or more (common practice, no source).",
        )
    )
    if caution := test_days.KIND_CAUTIONS.get(kind_of_effort(measure)):
        st.write(caution)
    minors = [names[code] for code in chosen if test_days.is_minor(known[code].born, now.date())]
    for said in (test_days.minor_sentence(minors), weather_words.air(facts.get("ambient_c"))):
        if said:
            st.warning(said)
    general = facts.get("general_minutes")
    short = general is not None and general < LEAST_GENERAL_MINUTES
    cold_start = [SHORT_GENERAL if general else NO_GENERAL] if short else []
    cold_start += [] if build_up else [NO_BUILD_UP]
    against = {
        code: [*cold_start, *known[code].against(now, rule, kind == "fade")] for code in chosen
    }
    against = {code: why for code, why in against.items() if why}
    if not against:
        return Against(build_up_efforts=build_up)
    told = [f"- {names[code]}: {'; '.join(why)}" for code, why in against.items()]
    st.warning("\n".join(["Better on another day:", *told]))
    reason = st.text_input(
        "Why test all the same?", key="test_all_the_same", max_chars=160, placeholder="in words"
    )
    return Against(frozenset(against), reason, build_up)


def show_week_setting(person: Person, measures: Mapping[str, Measure]) -> None:
    """Let a director set when tests may be done and how far they go."""
    with st.expander("Tests in the week, and how far they go"):
        now = ask(test_days.week_rule)
        code = st.selectbox(
            "Most efforts in a test of",
            list(measures),
            format_func=lambda code: measures[code].name,
            key="most_measure",
        )
        measure = measures[code]
        with st.form(f"week_rule_{code}", border=False):
            hours = st.number_input(
                "Hours without tests before a game", 0.0, 168.0, now.hours_before_game, 1.0, "%g"
            )
            week = st.number_input("Most tests of an athlete in a week", 1, 7, now.most_in_week)
            most = st.number_input(
                f"Most {measure.volume_unit} in a test",
                1,
                200,
                ask(test_days.most_of_measure, measure),
            )
            elements.quiet("Under 18 six tenths of it. Common practice, no source.")
            if st.form_submit_button("Set this"):
                rule = WeekRule(float(hours), int(week))
                test_days.set_week_rule(own_store(), rule, person.person)
                test_days.set_most(own_store(), measure, int(most), person.person)
                st.success("Set for tests that begin from now on.")
