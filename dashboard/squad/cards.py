"""The three answers under the finding: worth it, what changed, what to test next."""

from __future__ import annotations

import streamlit as st

from dashboard.core.numbers import percent
from dashboard.fits.next_tests import listed_tests
from dashboard.fits.usual_terms import squad_worth
from dashboard.screen import elements
from dashboard.screen.reads import ask
from dashboard.squad import words
from dashboard.squad.changed import changed_calls
from dashboard.tests.next_test_words import test_name
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.roster.measures import Measure

SHOWN = 3
"""How many athletes a card names."""


def show_cards(person: Person, measure: Measure, fit: KeptFit) -> None:
    """Show the answers side by side, on a phone one below another.

    What own lengths are worth is about the whole squad, so only those who see all of it get that.
    """
    shown = [_changed, _tests] if person.limited else [_worth, _changed, _tests]
    for column, show in zip(st.columns(len(shown)), shown, strict=True):
        with column, st.container(border=True, height="stretch"):
            show(person, measure, fit)


def _worth(_: Person, measure: Measure, fit: KeptFit) -> None:
    worth = ask(squad_worth, measure.code)
    answer, told = words.worth_answer(worth, fit)
    _answer("Are own lengths worth it?", answer, told)


def _changed(person: Person, measure: Measure, _: KeptFit) -> None:
    changed = ask(changed_calls, measure.code)
    answer, told = words.changed_answer(changed)
    _answer("What changed this week?", answer, told)
    for row in changed.calls.head(SHOWN).to_dict("records"):
        elements.link_to("athlete", words.changed_call(row), {"athlete": row["athlete"]})
    if person.role == "director":
        elements.link_to("week", "The whole week", {"measure": measure.code})


def _tests(_: Person, measure: Measure, fit: KeptFit) -> None:
    tests = ask(listed_tests, measure.code)
    worth = tests[tests["worth_pct"] >= fit.worthwhile_pct]
    answer, told = words.tests_answer(tests, worth, fit)
    _answer("What to test next?", answer, told)
    for row in worth.head(SHOWN).to_dict("records"):
        test = test_name(row, measure.volume_unit)
        told = f"{row['name']}: {test}, {percent(row['worth_pct'])}"
        elements.link_to("athlete", told, {"athlete": row["athlete"]})
    elements.link_to("tests_to_do", "All tests", {"measure": measure.code})


def _answer(question: str, answer: str, told: str) -> None:
    elements.quiet(question)
    st.subheader(answer, anchor=False)
    st.write(told)
