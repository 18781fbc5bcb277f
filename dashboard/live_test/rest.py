"""What going on with a fade test should still bring, shown while the test runs."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.core.numbers import counted, number, percent
from dashboard.fits.fitting import CannotFit, model_rows
from dashboard.fits.folded_sessions import model_and_rows
from dashboard.live_test.state import Standing
from db.efforts.new_rounds import StopRule
from db.file.store import Store
from db.roster.measures import Measure

if TYPE_CHECKING:
    from modeling.day.rest_of_test import RestOfTest

LEAST_MADE = 3
"""Efforts before anything is said: fewer do not show the day's level."""


def rest_of(
    store: Store,
    measure: Measure,
    athlete: str,
    session_id: int,
    rule: StopRule,
    most_left: float,
) -> RestOfTest | None:
    """Look ahead in a running test; None without a model or usable efforts."""
    from modeling import ModelError
    from modeling.day.rest_of_test import rest_of_test

    try:
        model, rows = model_and_rows(store, measure, athlete, session_id)
        return rest_of_test(
            model,
            model_rows(rows),
            rows["value"].astype(float),
            session_id,
            stop_share=rule.share,
            in_a_row=rule.in_a_row,
            most_left=most_left,
        )
    except (CannotFit, ModelError):
        return None


def efforts_left(one: Standing) -> float:
    """Return how many more efforts a test may have; infinite if nothing limits it."""
    most = one.test["most_efforts"]
    return (
        inf if pd.isna(most) else max(float(most) - float(one.test["first_volume"]) - one.made, 0)
    )


def rest_words(rest: RestOfTest) -> str:
    """Return the sentence for the tester, who decides."""
    from modeling.day.rest_of_test import ENOUGH_PCT
    from modeling.testing.simulated_tests import MOST_FADE_EFFORTS

    if rest.is_enough:
        return (
            "**Enough for the advice.** Going on is expected to better it by less than"
            f" {percent(ENOUGH_PCT)}. You decide."
        )
    more = rest.efforts
    if more.high >= MOST_FADE_EFFORTS:
        takes = f"may take {number(round(more.low))} or more efforts"
    else:
        ends = f"{number(round(more.low))} to {number(round(more.high))}"
        takes = f"takes about {counted(round(more.median), 'more effort')} (90\u00a0% sure: {ends})"
    return (
        f"Going on is expected to bring {percent(rest.worth_pct)} by better advice;"
        f" the stop rule {takes}."
    )
