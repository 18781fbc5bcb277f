"""Sentences and the table about which tests to do next."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from dashboard.core import cautions
from dashboard.core.numbers import Row, counted, evidence, number, percent, volume
from dashboard.fits.next_tests import LEAST_WORTH_PCT
from dashboard.rules import test_days

HOW_TO_READ = (
    "Worth: how much performance, in %, better advice is expected to bring after the test, averaged"
    " over all curves that the athlete may have. One routine session seldom changes advice, so it"
    " counts for a sixth of what six would bring."
)
CAUTION = f"{test_days.BUILD_UP} {cautions.CAUTIONS[1]} {cautions.CAUTION}"


def headline(rows: pd.DataFrame, worthwhile_pct: float) -> str:
    """Return how many of the tests with any worth bring at least the smallest worthwhile change."""
    many = int((rows["worth_pct"] >= worthwhile_pct).sum())
    verb = "is" if many < 2 else "are"
    worth_doing = f"{counted(many, 'test') if many else 'No test'} {verb} worth doing"
    if not (fewer := len(rows) - many):
        return worth_doing
    others = f"; {counted(fewer, 'other')}" if many else f": {fewer}"
    return f"{worth_doing}{others} would bring less than {percent(worthwhile_pct)}"


def worth_sentence(shown: pd.DataFrame) -> str:
    """Return what the tests of the list are worth."""
    most, least = shown["worth_pct"].max(), shown["worth_pct"].min()
    each = percent(most, 2)
    if len(shown) > 1:
        mean = percent(shown["worth_pct"].mean(), 2)
        each = f"between {percent(least, 2)} and {percent(most, 2)} ({mean} on average)"
    return f"Each test is expected to bring its athlete {each}.{_cost(shown)}"


def _cost(shown: pd.DataFrame) -> str:
    """Return what the tests cost in maximal efforts, if that is known for all of them."""
    if shown["takes"].isna().any():
        return ""
    per_effort = shown["worth_pct"].sum() / shown["takes"].sum()
    together = f"about {counted(round(shown['takes'].sum()), 'maximal effort')}"
    which = "They take" if len(shown) > 1 else "It takes"
    return f" {which} {together}, so {percent(10 * per_effort, 2)} for every ten."


def fade_sentence(least_pct: float) -> str:
    """Return what a fade test is, and when it is proposed."""
    return (
        f"A fade test is {cautions.FADE_TEST_IS}. As it tires the athlete for the day, it is"
        f" proposed only where it is expected to bring {percent(least_pct, 2)} or more, a tenth of"
        " the smallest change worth having."
    )


def nothing_sentence(athletes: int) -> str:
    """Return that nobody needs a test."""
    return (
        f"For {counted(athletes, 'athlete')} one more session is expected to bring less than"
        f" {percent(0.01, 2)}: enough is known for the advice."
    )


def test_name(row: Row, unit: str) -> str:
    """Return which test it is: `fade test, 80 efforts at most`, `3 efforts after 8 efforts`."""
    if row["kind"] == "fade":
        return f"fade test, {volume(row['most_efforts'], unit)} at most"
    if row["volume"] == 0:
        return "3 efforts after the general part only"
    return f"3 efforts after {volume(row['volume'], unit)}"


def takes(row: Row) -> str:
    """Return how many efforts a test is expected to take: `30 (12 to 70)`; empty if not known."""
    if pd.isna(row["takes"]):
        return ""
    middle, low, high = (number(round(row[f"takes{end}"])) for end in ("", "_low", "_high"))
    return middle if low == high else f"{middle} ({low} to {high})"


def firm_call(row: Row) -> str:
    """Return how many such sessions a firm call takes."""
    sessions = row["sessions_to_firm_call"]
    if pd.isna(sessions):
        return "not in sight"
    return f"about {sessions:.0f}" if sessions else "call is firm"


def until_firm_call(row: Row) -> str:
    """Return how many such sessions a firm call takes, as a part of a sentence."""
    return {
        "not in sight": "a firm call is not in sight by such tests alone",
        "call is firm": "the call is firm already",
    }.get(firm_call(row), f"{firm_call(row)} such until a firm call")


def known(row: Row) -> str:
    """Return what is known of an athlete: `3 sessions, 30 efforts`."""
    return evidence(row) if row["sessions"] else "nothing yet"


def tests_table(rows: pd.DataFrame, unit: str, when: Sequence[str]) -> pd.DataFrame:
    """Return rows of `dashboard.fits.next_tests.listed_tests` as people read them.

    `when` says from which day on each may be done. The columns that decide come right after the
    name, because a phone shows three.
    """
    each = rows.to_dict("records")
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "worth %": rows["worth_pct"].round(2),
            "test": [test_name(row, unit) for row in each],
            "from": list(when),
            "efforts": [takes(row) for row in each],
            "until a firm call": [firm_call(row) for row in each],
            "known from": [known(row) for row in each],
        }
    )


def tests_in_words(rows: pd.DataFrame, unit: str) -> str:
    """Return the text equivalent of the picture."""
    told = [
        f"{row['name']}: {test_name(row, unit)}, worth {percent(row['worth_pct'], 2)}"
        for row in rows.to_dict("records")
    ]
    return f"Tests in order of what they are expected to bring. {'; '.join(told)}."


def next_sentence(row: Row, unit: str) -> str:
    """Return one athlete's next test in a sentence."""
    if row["worth_pct"] < LEAST_WORTH_PCT:
        return (
            f"Another test is expected to bring less than {percent(0.01, 2)} by better advice:"
            f" {evidence(row)} tell enough."
        )
    known = f"from {evidence(row)}" if row["sessions"] else "from the squad's curves alone"
    cost = f", about {takes(row)}" if row["kind"] == "fade" and takes(row) else ""
    return (
        f"The next test to do: {test_name(row, unit)}{cost}, expected to bring"
        f" {percent(row['worth_pct'], 2)} by better advice, {known};"
        f" {until_firm_call(row)}."
    )
