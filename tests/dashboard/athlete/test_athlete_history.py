"""The history of an athlete: what is shown, changed and taken back, and by whom."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Button

from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.rows import efforts, sessions
from db.efforts.trail import effort_trail
from db.file.store import Store
from db.plans.lengths import PlanEntry, choices, save_choice
from db.plans.outcomes import record_outcome
from tests.dashboard.conftest import SignIn, told

PAGE = "athlete_history"
DAY = date(2026, 3, 20)


def first_effort(store: Store) -> int:
    newest = int(sessions(store, athlete="A1")["session_id"].iloc[0])
    rows = efforts(store, "jump_height", "A1")
    return int(rows[rows["session_id"] == newest]["effort_id"].iloc[0])


def choice(volume: float, reason: str = "") -> PlanEntry:
    return PlanEntry(DAY, "A1", "jump_height", "best", 1, 40.0, 15.0, volume, reason)


def button(application: AppTest, label: str) -> Button:
    return next(each for each in application.button if each.label == label)


def fill_in(application: AppTest, key: str, text: str) -> None:
    field = next(each for each in application.text_input if (each.key or "").startswith(key))
    field.set_value(text)


@pytest.mark.parametrize("name", ["dora", "carl"])
def test_sessions_are_listed_newest_first_with_their_efforts(
    shown_store: Store, sign_in: SignIn, name: str
) -> None:
    application = sign_in(shown_store, name, PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    listed = application.selectbox(key="history_session_A1")
    assert listed.label == "5 sessions, newest first"
    stored = sessions(shown_store, athlete="A1")
    assert listed.options[0].startswith(f"{stored['started_at'].max():%d %b %Y}")
    assert listed.options[0].endswith("jump height, fade, 12 efforts")
    table = application.dataframe[0].value
    assert table["effort"].tolist() == list(range(1, 13))
    assert table["value, cm"].notna().all() and table["not used because"].isna().all()
    assert "No effort was corrected or excluded." in told(application)


def test_a_value_far_from_the_others_is_taken_when_it_is_entered_again(
    filled_store: Store, sign_in: SignIn
) -> None:
    effort_id = first_effort(filled_store)
    application = sign_in(filled_store, "carl", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    application.number_input(key=f"history_value_{effort_id}_0").set_value(93.6)
    fill_in(application, "history_reason", "misread")
    button(application, "Correct the value").click().run()
    assert "Please look again. 93.6" in application.error[0].value
    assert effort_trail(filled_store, "A1").empty
    button(application, "Correct the value").click().run()
    assert effort_trail(filled_store, "A1")["new_value"].tolist() == [93.6]


def test_a_value_is_corrected_and_the_old_one_stays_in_the_trail(
    filled_store: Store, sign_in: SignIn
) -> None:
    effort_id = first_effort(filled_store)
    application = sign_in(filled_store, "carl", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    before = application.number_input(key=f"history_value_{effort_id}_0").value
    application.number_input(key=f"history_value_{effort_id}_0").set_value(41.5)
    button(application, "Correct the value").click().run()
    assert "A change of an effort needs a reason" in told(application)
    assert effort_trail(filled_store, "A1").empty
    fill_in(application, "history_reason", "misread")
    button(application, "Correct the value").click().run()
    assert "Effort 1 is now 41.5 cm" in told(application)
    row = application.dataframe[1].value.iloc[0]
    assert (row["who"], row["what"], row["why"]) == ("carl", f"{before:g} to 41.5", "misread")
    assert application.dataframe[0].value["value, cm"].iloc[0] == 41.5


def test_an_effort_is_excluded_and_included_again(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    fill_in(application, "history_reason", "slipped")
    button(application, "Exclude").click().run()
    assert application.dataframe[0].value["not used because"].iloc[0] == "slipped"
    assert "12 efforts, 1 not used" in application.selectbox(key="history_session_A1").options[0]
    fill_in(application, "history_reason", "it was fine")
    button(application, "Include again").click().run()
    assert application.dataframe[1].value["what"].tolist() == [
        "used again (was left out: slipped)",
        "not used: slipped",
    ]


def test_a_decision_is_taken_back_by_a_new_one(filled_store: Store, sign_in: SignIn) -> None:
    effort_id = first_effort(filled_store)
    exclude_effort(filled_store, effort_id, "slipped", "carl")
    save_choice(filled_store, choice(20.0, "calf"), "carl")
    save_choice(filled_store, choice(30.0, "better"), "carl")
    application = sign_in(filled_store, "dora", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    assert len(application.selectbox(key="back_A1_0").options) == 2
    fill_in(application, "back_reason", "looked at the film")
    button(application, "Take it back").click().run()
    assert "Taken back." in told(application)
    assert effort_trail(filled_store, "A1")["reason"].tolist() == ["looked at the film", "slipped"]
    assert sessions(filled_store, athlete="A1")["excluded_efforts"].sum() == 0
    back = application.selectbox(key="back_A1_1")
    back.set_value(back.options[1])
    fill_in(application, "back_reason", "no")
    button(application, "Take it back").click().run()
    made = choices(filled_store, "A1")
    assert made["chosen_volume"].tolist() == [20.0, 30.0, 20.0]
    assert made["in_force"].tolist() == [True, False, False]
    assert made["person"].tolist() == ["dora", "carl", "carl"]


def test_lengths_outcomes_and_imports_are_listed(filled_store: Store, sign_in: SignIn) -> None:
    plan = save_choice(filled_store, choice(20.0, "calf"), "carl")
    record_outcome(filled_store, plan, 18.0, 44.0, "carl")
    record_outcome(filled_store, plan, 19.0, 45.0, "dora")
    correct_effort(filled_store, first_effort(filled_store), 40.5, "misread", "carl")
    application = sign_in(filled_store, "dora", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    _, changes, lengths, outcomes, imports = (table.value for table in application.dataframe)
    assert len(changes) == 1
    assert lengths[["set", "advised", "why", "in force"]].values.tolist() == [
        [20.0, 40.0, "calf", "yes"]
    ]
    assert outcomes["done, before"].iloc[0] == 18.0 and outcomes["best after"].iloc[0] == 45.0
    assert imports[["file", "efforts", "who"]].values.tolist() == [["efforts.csv", 60, "test"]]


def test_two_lengths_of_one_day_say_which_game_they_are_for(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_choice(filled_store, choice(20.0), "carl")
    save_choice(filled_store, replace(choice(12.0), second_game=True), "carl")
    application = sign_in(filled_store, "dora", PAGE)
    application.selectbox(key="athlete").set_value("A1").run()
    [lengths] = [each.value for each in application.dataframe if "in force" in each.value]
    assert lengths[["game", "set", "in force"]].values.tolist() == [
        ["second", 12.0, "yes"],
        ["", 20.0, "yes"],
    ]
    second, first = application.selectbox(key="back_A1_0").options
    assert ", second game, jump height: 12" in second and "game" not in first


def test_an_athlete_without_sessions_has_a_next_step(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "carl", PAGE)
    application.selectbox(key="athlete").set_value("A5").run()
    text = told(application)
    assert "Nothing of Untested Five is saved yet." in text
    assert (
        "No length has been set." in text and "No efforts of this athlete came from a file" in text
    )
