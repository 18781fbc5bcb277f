"""Today after a session: the same rows ask what was done, and save each answer at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
import streamlit as st

from dashboard.screen.menu import file_of
from dashboard.today import after_screen
from db.file.store import Store
from db.plans.lengths import PlanEntry, plans, save_choice
from db.plans.outcomes import Outcome, recorded
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.today.list_stand_in import groups, row, say, shown, stand_in


def yesterday() -> date:
    return date.today() - timedelta(days=1)


SET = {"A1": 18.0, "A2": 4.0, "A3": 15.0, "A4": 15.0}


@pytest.fixture(autouse=True)
def plain_list(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch)


@pytest.fixture
def application(filled_store: Store, sign_in: SignIn) -> Any:
    """Yesterday's page, with four lengths saved."""
    for code, length in SET.items():
        plan = PlanEntry(yesterday(), code, "jump_height", "best", 1, length, 15.0, length)
        save_choice(filled_store, plan, "carl")
    return after(sign_in(filled_store, "carl"))


def after(page: Any) -> Any:
    """Turn the page to yesterday."""
    page.date_input(key="plan_day").set_value(yesterday()).run()
    return page


def done(store: Store) -> dict[str, Outcome]:
    return recorded(store, yesterday(), "jump_height", second_game=False)


def test_rows_show_the_plan_and_a_tick_saves_it(filled_store: Store, application: Any) -> None:
    assert shown(application)["after"]
    assert list(groups(application).values()) == [["A1"], ["A3", "A4"], ["A2"]]
    assert (row(application, "A1")["number"], row(application, "A1")["of"]) == ("18", "of 18")
    assert "0 of 4 saved, 0 changed." in told(application)
    say(application, "tick", "A1", value=True)
    assert done(filled_store)["A1"].done_volume == 18 and row(application, "A1")["ticked"]
    say(application, "tick", "A1", value=False)
    assert done(filled_store)["A1"].done_volume is None


def test_a_row_asks_why_something_else_was_done(filled_store: Store, application: Any) -> None:
    assert not row(application, "A2")["chips"]
    say(application, "number", "A2", "3,5")
    changed = row(application, "A2")
    assert changed["own"] and [each["value"] for each in changed["chips"]] == [
        "late",
        "sore",
        "told to",
        "other",
    ]
    say(application, "why", "A2", "sore")
    say(application, "value", "A2", "39.5")
    found = done(filled_store)["A2"]
    assert (found.done_volume, found.outcome, found.why) == (3.5, 39.5, "sore")
    for what, value in (("number", "many"), ("number", ""), ("number", "-2"), ("value", "high")):
        say(application, what, "A2", value)
        assert row(application, "A2")["error"]
    say(application, "why", "A2", "lazy")
    say(application, "number", "A9", "3")
    assert done(filled_store)["A2"] == found
    say(application, "number", "A2", "4")
    assert not row(application, "A2")["chips"] and done(filled_store)["A2"].why == ""


def doubts(application: Any, code: str) -> list[str]:
    return [each["sentence"].replace("\u00a0", " ") for each in row(application, code)["doubts"]]


def test_an_unlikely_number_is_saved_only_when_somebody_is_sure(
    filled_store: Store, application: Any
) -> None:
    """The most done so far matters, because the next length may go a quarter beyond it."""
    most = "40 efforts is more than twice the most so far, 15 efforts. Not saved yet."
    far = "14.1 cm is less than half of the 40 cm to be expected. Not saved yet."
    say(application, "number", "A2", "40")
    assert doubts(application, "A2") == [most]
    say(application, "value", "A2", "14.1")
    assert doubts(application, "A2") == [most, far]
    assert done(filled_store)["A2"] == replace(done(filled_store)["A2"], done_volume=None)
    say(application, "sure", "A2", "value")
    assert done(filled_store)["A2"].outcome == 14.1 and len(doubts(application, "A2")) == 1
    say(application, "sure", "A2", "value")
    say(application, "value", "A2", "41.0")
    assert done(filled_store)["A2"].outcome == 41.0
    say(application, "number", "A2", "5")
    assert not doubts(application, "A2") and done(filled_store)["A2"].done_volume == 5
    say(application, "number", "A3", "40")
    assert doubts(application, "A3") == [most]
    assert row(application, "A3")["doubts"][0]["sure"].replace("\u00a0", " ") == "Yes, 40 efforts"
    say(application, "tick", "A3", value=True)
    assert not doubts(application, "A3") and done(filled_store)["A3"].done_volume == 15
    say(application, "number", "A3", "40")
    say(application, "sure", "A3", "number")
    assert done(filled_store)["A3"].done_volume == 40 and not doubts(application, "A3")
    say(application, "value", "A3", "1e9")
    assert "cannot be a value of jump height" in row(application, "A3")["error"]


def test_all_as_planned_saves_the_rest_as_assumed_and_can_be_undone_after_a_reload(
    filled_store: Store, application: Any, sign_in: SignIn
) -> None:
    say(application, "number", "A1", "0")
    application.button(key="all_as_planned").click().run()
    found = done(filled_store)
    assert {code: each.done_volume for code, each in found.items()} == SET | {"A1": 0}
    assert {code: each.assumed for code, each in found.items()} == {
        code: code != "A1" for code in SET
    }
    assert row(application, "A2")["of"] == "of 4 assumed"
    assert not [each for each in application.button if each.key == "all_as_planned"]
    assert row(application, "A2")["why"].startswith("saved ")
    assert row(application, "A3")["more"][0].startswith("Saved "), "little room in its row"
    application = after(sign_in(filled_store, "carl"))
    application.button(key="undo_last").click().run()
    assert row(application, "A2")["why"] == ""
    assert [code for code, each in done(filled_store).items() if each.done_volume is None] == [
        "A2",
        "A3",
        "A4",
    ]
    application = after(sign_in(filled_store, "carl"))
    application.button(key="undo_last").click().run()
    assert done(filled_store)["A1"].done_volume is None
    assert not [each for each in application.button if each.key == "undo_last"]
    assert plans(filled_store, yesterday(), "jump_height")["done_volume"].isna().all()


def test_a_press_is_not_lost_when_another_run_overtakes_it(
    filled_store: Store, application: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    overtaken, ask_undo = [True], after_screen.to_take_back

    def to_take_back(*asked: Any) -> Any:
        if overtaken and overtaken.pop():
            st.rerun()  # as when the browser sends a tick while the page runs
        return ask_undo(*asked)

    monkeypatch.setattr(after_screen, "to_take_back", to_take_back)
    application.button(key="all_as_planned").click().run()
    assert not overtaken
    assert {code: each.done_volume for code, each in done(filled_store).items()} == SET


def test_people_take_back_only_what_is_their_own(
    filled_store: Store, application: Any, sign_in: SignIn
) -> None:
    say(application, "number", "A1", "9")
    say(application, "why", "A1", "sore")
    say(application, "tick", "A2", value=True)
    other = after(sign_in(filled_store, "dora").switch_page(file_of("before_session")).run())
    assert not [each for each in other.button if each.key == "undo_last"]
    say(other, "number", "A2", "6")
    application.button(key="undo_last").click().run()
    found = done(filled_store)
    assert (found["A1"].done_volume, found["A1"].why) == (9, "")
    assert found["A2"].done_volume == 6, "somebody else has recorded it since"
    again = after(sign_in(filled_store, "carl"))
    again.button(key="undo_last").click().run()
    assert done(filled_store)["A1"].done_volume is None
    assert not [each for each in again.button if each.key == "undo_last"]


def test_before_the_day_the_page_does_not_ask_what_was_done(
    filled_store: Store, sign_in: SignIn
) -> None:
    tomorrow = date.today() + timedelta(days=1)
    plan = PlanEntry(tomorrow, "A1", "jump_height", "best", 1, 18.0, 15.0, 18.0)
    save_choice(filled_store, plan, "carl")
    page = sign_in(filled_store, "carl")
    assert not shown(page)["after"]
    assert not page.get("button_group")
