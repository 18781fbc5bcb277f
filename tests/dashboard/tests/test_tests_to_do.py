"""The page `Tests to do`: the list in order of worth, within a limit, and its words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from dashboard.app.exports import export_rows
from dashboard.fits.next_tests import as_asked, listed_tests, next_test_rows
from dashboard.rules.club_limits import set_most_allowed
from dashboard.tests import next_test_words
from db.efforts.new_rounds import StopRule
from db.file.store import Store
from db.fits.next_tests import NEXT_TEST_COLUMNS
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from db.roster.statuses import set_status
from modeling import ResponseModel
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests.dashboard.conftest import SignIn, keep_artificial_fit, told


def test_the_list_is_in_order_of_worth_and_within_the_limit(
    shown_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(shown_store, "carl", "tests_to_do")
    text = told(page).replace("\u00a0", " ")
    assert "No test is worth doing: 5 would bring less than 1.5 %" in text
    assert "between 0.01 % and 0.60 % (" in told(page).replace("\u00a0", " ")
    assert page.dataframe[0].value["athlete"].tolist()[:2] == ["Untested Five", "Unknown Four"]
    page.number_input(key="most_tests").set_value(2).run()
    assert len(page.dataframe[0].value) == 2
    assert page.dataframe[0].value["test"].tolist() == ["fade test, 80 efforts at most"] * 2
    page.segmented_control(key="test_kinds").set_value("routine").run()
    assert page.dataframe[0].value["test"].tolist() == [
        "3 efforts after 10 efforts",
        "3 efforts after 9 efforts",
    ]
    assert "supervised athletes" in told(page)
    assert not page.exception


def test_a_test_opens_with_the_marked_athletes(shown_store: Store, sign_in: SignIn) -> None:
    page = sign_in(shown_store, "carl", "tests_to_do")
    marked = {"selection": {"rows": [0, 1], "columns": [], "cells": []}}
    page.session_state["tests_jump_height_any_5"] = marked
    page.run()
    [_, link] = (each.proto for each in page.get("page_link") if each.proto.page == "run-test")
    assert link.label == "Run a test with Untested Five and Unknown Four"
    assert link.query_string == (
        "measure=jump_height&test_athletes=A5&test_athletes=A4&test_kind=fade"
    )


def test_a_test_opens_without_the_facts_in_which_the_listed_tests_differ(
    shown_store: Store,
) -> None:
    rows = listed_tests(shown_store, "jump_height", fade_tests=False)
    one = rows[rows["athlete"] == "A5"]
    assert as_asked("jump_height", one)["test_volume"] == f"{one['volume'].iloc[0]:.0f}"
    assert "test_volume" not in as_asked("jump_height", rows)
    both = listed_tests(shown_store, "jump_height")
    assert set(as_asked("jump_height", both)) == {"measure", "test_athletes"}


def test_curves_without_next_tests_are_worked_out_again_from_the_page(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    keep_artificial_fit(unfitted_store, checked=False)
    page = sign_in(unfitted_store, "dora", "tests_to_do")
    assert "say nothing of next tests yet" in told(page)
    assert page.button(key="update_curves").label == "Work out the curves again"


def test_each_athlete_is_listed_once_with_the_test_worth_most(shown_store: Store) -> None:
    rows = listed_tests(shown_store, "jump_height")
    assert sorted(rows["athlete"]) == ["A1", "A2", "A3", "A4", "A5"]
    # The smallest change worth having is 1.5 %, and A1 to A3 would gain less than a tenth of it.
    assert dict(zip(rows["athlete"], rows["kind"], strict=True)) == {
        "A1": "routine",
        "A2": "routine",
        "A3": "routine",
        "A4": "fade",
        "A5": "fade",
    }
    assert set(listed_tests(shown_store, "jump_height", fade_tests=False)["kind"]) == {"routine"}


def test_a_fit_gives_everybody_two_next_tests() -> None:
    rng = np.random.default_rng(1)
    frame = simulate_squad(simulated_truths("Ricker", 4, rng), Protocol(1, 2), Noise(), rng)
    model = ResponseModel(standard_volume=15).fit(frame, frame["value"])
    rows = next_test_rows(model, ["A01", "A02", "new"], StopRule(0.9, 3))
    assert list(rows) == NEXT_TEST_COLUMNS and len(rows) == 6
    assert rows["worth_pct"].is_monotonic_decreasing
    patient = next_test_rows(model, ["A01", "A02", "new"], StopRule(0.9, 6))
    takes = [each[each["kind"] == "fade"].set_index("athlete")["takes"] for each in (rows, patient)]
    assert (takes[1] > takes[0]).all(), "a rule that waits for more low efforts takes more"


ROW = {"name": "A", "kind": "routine", "volume": 8.0, "worth_pct": 0.12, "sessions": 3}
ROW |= {"efforts": 30, "sessions_to_firm_call": 2.0, "most_efforts": 80.0}
ROW |= {"takes": 3.0, "takes_low": 3.0, "takes_high": 3.0}
FADE = {"kind": "fade", "takes": 30.4, "takes_low": 12.0, "takes_high": 69.6}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, "3 efforts after 8 efforts, expected to bring 0.12 % by better advice, from 3 "),
        ({"volume": 0.0}, "3 efforts after the general part only"),
        (FADE, "to do: fade test, 80 efforts at most, about 30 (12 to 70), expected"),
        (FADE | {"takes": np.nan}, "to do: fade test, 80 efforts at most, expected"),
        ({"sessions": 0}, "by better advice, from the squad's curves alone;"),
        ({}, "about 2 such until a firm call."),
        ({"sessions_to_firm_call": 0.0}, "; the call is firm already."),
        ({"sessions_to_firm_call": np.nan}, "a firm call is not in sight by such tests alone."),
        ({"worth_pct": 0.001}, "less than 0.01 % by better advice: 3 sessions, 30 efforts tell "),
    ],
)
def test_the_next_test_in_a_sentence(changes: dict[str, object], expected: str) -> None:
    told_so = next_test_words.next_sentence(ROW | changes, "efforts").replace("\u00a0", " ")
    assert expected in told_so


@pytest.mark.parametrize(
    ("worths", "expected"),
    [
        ([2.0], "1 test is worth doing"),
        ([2.0, 0.1], "1 test is worth doing; 1 other would bring less than 1.5 %"),
        ([2.0, 1.5, 0.1, 0.0], "2 tests are worth doing; 2 others would bring less than 1.5 %"),
        ([0.1], "No test is worth doing: 1 would bring less than 1.5 %"),
    ],
)
def test_the_headline_counts_the_tests_worth_doing(worths: list[float], expected: str) -> None:
    rows = pd.DataFrame({"worth_pct": worths})
    assert next_test_words.headline(rows, 1.5).replace("\u00a0", " ") == expected


def test_the_worth_of_one_test_has_no_range() -> None:
    sentence = next_test_words.worth_sentence(pd.DataFrame([ROW])).replace("\u00a0", " ")
    assert sentence == (
        "Each test is expected to bring its athlete 0.12 %. It takes about 3 maximal efforts, so"
        " 0.40 % for every ten."
    )
    several = pd.DataFrame([ROW, ROW | FADE])
    assert "They take about 33 maximal efforts, so 0.07 %" in next_test_words.worth_sentence(
        several
    ).replace("\u00a0", " ")
    older = next_test_words.worth_sentence(several.assign(takes=np.nan))
    assert "maximal efforts" not in older.replace("\u00a0", " ")


def test_tests_respect_todays_limits_and_statuses(filled_store: Store) -> None:
    """A limit set after the fit counts, it is lower under 18, and who is out has no row."""
    measure = get_measure(filled_store, "jump_height")
    before = export_rows(filled_store, "next-tests", "jump_height")
    assert before.loc[before["kind"] == "routine", "volume"].max() > 6
    set_most_allowed(filled_store, replace(measure, standard_volume=None), 9.0, "test")
    born = date.today().replace(year=date.today().year - 16, day=1).isoformat()
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A5"], "born": [born]}), "test")
    set_status(filled_store, "A4", "out", date.today(), "", "carl")
    rows = export_rows(filled_store, "next-tests", "jump_height")
    listed = listed_tests(filled_store, "jump_height", fade_tests=False)
    assert "A4" not in {*rows["athlete"], *listed["athlete"]}
    for proposed in (rows[rows["kind"] == "routine"], listed):
        volumes = proposed.set_index("athlete")["volume"]
        # At most nine a day, with the three that are measured; under 18, six tenths of nine.
        assert volumes.max() <= 6 and volumes["A5"] <= 2
    assert dict(zip(rows["athlete"], rows["most_efforts"], strict=True))["A5"] == 48
    assert next_test_words.test_name(listed.iloc[0], "efforts").startswith("3 efforts after")


def test_an_athlete_who_is_out_has_no_length_in_an_export_but_keeps_the_curve(
    filled_store: Store,
) -> None:
    set_status(filled_store, "A1", "out", date.today(), "", "carl")
    rows = export_rows(filled_store, "responses", "jump_height").set_index("athlete")
    assert np.isnan(rows.loc["A1", "length"]) and rows["length"].notna().sum() == len(rows) - 1
    assert rows.loc["A1", "advised_volume"] > 0
    assert "A1" in set(export_rows(filled_store, "curves", "jump_height")["athlete"])
