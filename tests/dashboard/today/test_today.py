"""Today before a session: the rows, what people do in them, and what is saved."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.core import cautions
from dashboard.core.numbers import number, percent
from dashboard.fits.lengths import lost_at, responses
from dashboard.game.files import game_files
from dashboard.own import game
from dashboard.today import after_screen, rows
from dashboard.today.training_plan import plan_rows
from db.file.store import Store
from db.plans.kept_games import kept_games
from db.plans.lengths import PlanEntry, plans, save_choice
from db.plans.outcomes import record_outcome
from db.plans.start_words import keep_start_word
from db.privacy.trail import trail_length
from tests.dashboard.conftest import SignIn, keep_artificial_fit, told
from tests.dashboard.game.test_game import text_of
from tests.dashboard.today.list_stand_in import groups, row, said, say, shown, stand_in


@pytest.fixture(autouse=True)
def plain_list(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch)
    monkeypatch.setattr(after_screen, "now", lambda: datetime.combine(date.today(), time(9)))


def find(application: AppTest, beginning: str) -> str:
    """Return the key of the one input whose key starts with `beginning`."""
    inputs = [*application.number_input, *application.text_input, *application.text_area]
    [key] = {each.key for each in inputs if each.key and each.key.startswith(beginning)}
    return key


def whistle(application: AppTest, typed: str) -> None:
    application.text_input(key=find(application, "plan_start")).set_value(typed).run()


def save(application: AppTest) -> dict[str, str]:
    """Press the one filled button, and return the file that it hands over."""
    application.button(key="save_and_print").click().run()
    assert not application.exception and not application.error
    file: dict[str, str] = shown(application)["file"]
    return file


def in_force(store: Store) -> Any:
    return plans(store, date.today(), "jump_height").set_index("athlete")


def test_rows_are_in_three_groups_with_the_squads_numbers(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl")
    assert groups(application) == {
        "Longer than 15 efforts (1)": ["A1"],
        "The standard 15 efforts (3)": ["A3", "A4", "A5"],
        "Shorter than 15 efforts (1)": ["A2"],
    }
    squad = responses(shown_store, "jump_height").set_index("athlete")
    for code in ("A1", "A2"):
        one = row(application, code)
        assert one["number"] == number(squad.loc[code, "length"])
        assert one["lost"] == percent(squad.loc[code, "loss_at_standard_pct"])
        ends = [number(round(squad.loc[code, end])) for end in ("good_from", "good_to")]
        assert f"good range {' to '.join(ends)}" in one["why"]
        assert f"{squad.loc[code, 'sessions']} sessions" in one["why"]
        assert any("(" in sentence for sentence in one["more"]), "intervals are one tap away"
    assert [row(application, code)["hollow"] for code in ("A3", "A4", "A5")] == [False, True, True]
    assert " would be better, " in row(application, "A1")["why"], (
        "what caps a length is said in its row"
    )
    assert cautions.CAUTION in told(application)


def test_a_length_is_changed_with_or_without_a_reason_and_reset(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl")
    say(application, "number", "A1", "lots")
    assert "Type a number" in row(application, "A1")["error"]
    say(application, "number", "A1", "10000")
    refused = "is too much. At most 25 efforts are allowed. With a reason you can go up step by"
    assert refused in row(application, "A1")["error"]
    assert row(application, "A1")["number"] == "18"
    say(application, "number", "A1", "20")
    changed = row(application, "A1")
    assert (changed["number"], changed["own"], changed["reason"]) == ("20", True, "")
    assert changed["told"].startswith("Advised 18; ") and not changed["error"]
    assert shown(application)["focus"] == "reason A1"
    say(application, "number", "A3", "12")
    assert groups(application)["Shorter than 15 efforts (2)"] == ["A3", "A2"]
    say(application, "reset", "A3", "")
    assert "A3" in groups(application)["The standard 15 efforts (3)"]
    say(application, "reason", "A1", " sore calf ")
    assert in_force(filled_store).empty, "nothing is saved before the button is pressed"
    file = save(application)
    assert file["address"] == f"/download/training.pdf?day={date.today()}&measure=jump_height"
    links = {link.url for link in application.link_button}
    assert {
        f"/download/training.{ending}?day={date.today()}&measure=jump_height"
        for ending in ("html", "csv")
    } <= links
    kept = in_force(filled_store)
    assert kept["chosen_volume"].to_dict() == {"A1": 20, "A2": 4, "A3": 15, "A4": 15, "A5": 15}
    assert kept["reason"].to_dict() == {code: "sore calf" * (code == "A1") for code in kept.index}
    assert set(kept["person"]) == {"carl"}
    assert row(application, "A1")["reason"] == "sore calf"
    assert "5 athletes here. Saved." in told(application)


@pytest.mark.parametrize("whistles", ["", "23:59"])
def test_a_number_typed_just_before_saving_is_saved_too(
    filled_store: Store, sign_in: SignIn, whistles: str
) -> None:
    """Pressing the button overtakes the run that typing started."""
    application = sign_in(filled_store, "carl")
    if whistles:
        whistle(application, whistles)
    sent = said(application, "number", "A1", "20")
    application.session_state[rows.KEY] = SimpleNamespace(said=sent)
    save(application)
    assert in_force(filled_store)["chosen_volume"]["A1"] == 20
    assert row(application, "A1")["number"] == "20"


def test_messages_from_before_a_restart_are_ignored(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl")
    sent = said(application, "number", "A1", "20") | {"session": "the one before"}
    application.session_state[rows.KEY] = SimpleNamespace(said=sent)
    application.run()
    assert row(application, "A1")["number"] == "18"


def test_messages_that_the_list_cannot_send_change_nothing(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl")
    before = shown(application)["groups"]
    for what, who, value in (
        ("number", "nobody", "20"),
        ("tick", "A1", "yes"),
        ("choice", "", "everything"),
        ("waves", "-1", "2"),
        ("why", "A1", "sore"),
        ("number", "A1", {"a": 1}),
    ):
        say(application, what, who, value)
        assert shown(application)["groups"] == before, what
    say(application, "number", "A1", "20", key="another day")
    assert shown(application)["groups"] == before
    for nonsense in (None, [], {"messages": 1}, {"key": "k", "messages": [None, {"number": True}]}):
        assert rows.new_messages(nonsense, "k") == []


def test_an_athlete_who_is_away_has_no_length(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl")
    say(application, "tick", "A3", value=False)
    assert groups(application)["Away (1)"] == ["A3"]
    assert row(application, "A3")["number"] is None
    save(application)
    assert set(in_force(filled_store).index) == {"A1", "A2", "A4", "A5"}
    assert "4 athletes here, 1 away. Saved." in told(application)
    again = sign_in(filled_store, "carl")
    assert groups(again)["Away (1)"] == ["A3"] and "1 away. Saved." in told(again)
    say(again, "tick", "A3", value=True)
    save(again)
    assert "A3" in in_force(filled_store).index
    say(again, "tick", "A3", value=False)
    save(again)
    assert "A3" not in in_force(filled_store).index, "who was here and is away now"
    application = sign_in(filled_store, "carl")
    for code in ("A1", "A2", "A4", "A5"):
        say(application, "tick", code, value=False)
    assert "Nobody is left for this session" in told(application)


def test_an_athlete_whose_length_is_recorded_cannot_be_away(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl")
    save(application)
    number = int(in_force(filled_store).loc["A5", "plan_id"])
    record_outcome(filled_store, number, 8.0, None, "carl")
    say(application, "tick", "A5", value=False)
    refused = row(application, "A5")
    assert refused["ticked"] and "what was done is recorded" in refused["error"]
    assert "5 athletes here. Saved." in told(application)


def test_a_goal_with_efforts_to_follow_changes_the_lengths(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl")
    application.selectbox(key="plan_goal").set_value("sustained").run()
    application.number_input(key="plan_efforts").set_value(20).run()
    assert "the best average over the 20 efforts to follow" in told(application)
    assert float(row(application, "A2")["number"]) < 4
    save(application)
    kept = in_force(filled_store)
    assert set(kept["goal"]) == {"sustained"} and set(kept["efforts_to_follow"]) == {20}
    say(application, "number", "A2", "9")
    for_one, for_twenty = (
        lost_at(filled_store, "jump_height", [("A2", 9.0)], efforts)["A2"][0] for efforts in (1, 20)
    )
    assert f"{percent(for_twenty)} lost at 9" in row(application, "A2")["told"]
    assert percent(for_one) != percent(for_twenty), "twenty efforts lose more than the first"
    advised = plan_rows(filled_store, "jump_height", date.today(), 20).set_index("athlete")
    length, lost = advised.loc["A2", ["length", "lost_pct"]]
    assert lost_at(filled_store, "jump_height", [("A2", length)], 20)["A2"][0] == lost


def test_it_opens_on_the_next_day_with_something_saved(
    filled_store: Store, sign_in: SignIn
) -> None:
    for days in (-3, 9, 4):
        plan = PlanEntry(
            date.today() + timedelta(days=days), "A1", "jump_height", "best", 1, 18.0, 15.0, 18.0
        )
        save_choice(filled_store, plan, "carl")
    application = sign_in(filled_store, "carl")
    assert application.date_input(key="plan_day").value == date.today() + timedelta(days=4)


def test_without_curves_everybody_is_hollow_and_the_page_says_what_is_needed(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(unfitted_store, "carl")
    [group] = shown(application)["groups"]
    assert group["mark"] == "unknown" and len(group["rows"]) == 5
    assert all(each["hollow"] for each in group["rows"])
    assert "The curves have not been worked out yet" in told(application)
    say(application, "number", "A1", "12")
    save(application)
    assert in_force(unfitted_store)["chosen_volume"].to_dict()["A1"] == 12


def test_an_empty_store_says_what_is_needed_to_start(empty_store: Store, sign_in: SignIn) -> None:
    application = sign_in(empty_store, "carl")
    assert "First steps: 0 of 4 done" in told(application)
    assert not [each for each in application.button if each.key == "save_and_print"]


def test_a_game_is_planned_saved_and_recorded(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_start_word(filled_store, "throw-off", "dora")
    application = sign_in(filled_store, "carl")
    assert application.text_input(key=find(application, "plan_start")).label.startswith("Throw-off")
    whistle(application, "half past seven")
    assert "'half' is not a time of day such as 19:30" in told(application)
    whistle(application, "19:30")
    assert not application.exception
    assert "throw-off **19:30**" in told(application) and "ready 19:25" in told(application)
    first = shown(application)["groups"][0]
    assert (first["told"], first["at"]) == ("first start", first["rows"][0]["at"])
    assert [each["chosen"] for each in shown(application)["choices"]] == [True, False, False]
    assert all(
        "start time" in each["told"] and "% lost" in each["told"].replace("\u00a0", " ")
        for each in shown(application)["choices"]
    )
    assert save(application)["address"].startswith("/download/sheet.pdf")
    [kept] = kept_games(filled_store, date.today(), "jump_height")
    assert kept.person == "carl" and len(kept.game.players) == 5
    assert {link.url.partition("?")[0] for link in application.link_button} >= {
        f"/download/{name}" for name in ("game.html", "game.csv", "game.ics", "game.zip")
    }
    files = game_files(filled_store, date.today(), "jump_height")
    for paper in (" ".join(text_of(files.pdf())), files.phone().decode()):
        assert ", throw-off 19:30" in paper and "Throw-off 19:30, in the hall" in paper
        assert "whistle" not in paper
    assert "5 athletes here. Saved." in told(application)
    # A game that is long over is not shown; this test may run late in the evening.
    monkeypatch.setattr(game, "STILL_SHOWN", timedelta(days=1))
    own = told(sign_in(filled_store, "long.one"))
    assert ", throw-off 19:30" in own and "Short Two" not in own


@pytest.mark.parametrize("starts", ["", "19:30"])
def test_the_sheet_is_offered_until_handed_over_and_prints_again_without_saving(
    filled_store: Store, sign_in: SignIn, starts: str
) -> None:
    application = sign_in(filled_store, "carl")
    whistle(application, starts)
    file = save(application)
    application.run()
    # The browser may not have seen the run before.
    assert shown(application)["file"] == file
    kept = trail_length(filled_store)
    again = save(application)
    assert again["address"] == file["address"] and again["number"] != file["number"]
    assert trail_length(filled_store) == kept


def test_a_press_is_not_lost_when_another_run_overtakes_it(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    application = sign_in(filled_store, "carl")
    whistle(application, "19:30")
    overtaken, draw = [True], rows.draw_list

    def draw_list(*given: Any) -> None:
        if overtaken and overtaken.pop():
            st.rerun()  # as when the browser sends something typed while the page runs
        draw(*given)

    monkeypatch.setattr(rows, "draw_list", draw_list)
    assert save(application)["address"].startswith("/download/sheet.pdf") and not overtaken
    assert kept_games(filled_store, date.today(), "jump_height")


def test_waves_can_be_chosen_and_come_back_as_saved(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl")
    whistle(application, "19:30")
    say(application, "choice", "", "one")
    [(title, codes)] = groups(application).items()
    assert title.startswith("Everybody: ") and len(codes) == 5
    say(application, "choice", "", "waves")
    assert len(groups(application)) == 2
    say(application, "waves", "1", "3")
    assert len(groups(application)) == 3
    save(application)
    assert [each["chosen"] for each in shown(application)["choices"]] == [False, True, False]
    assert len(groups(application)) == 3
    say(application, "number", "A2", "6")
    assert row(application, "A2")["number"] == "6" and row(application, "A2")["own"]
    say(application, "reset", "A2", "")
    assert not row(application, "A2")["own"]


def test_a_start_set_by_hand_counts_in_the_first_start(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl")
    whistle(application, "19:30")
    before = shown(application)["groups"][0]["at"]
    say(application, "number", "A1", "23")
    first = shown(application)["groups"][0]
    assert first["at"] == first["rows"][0]["at"] < before


def test_the_row_and_the_numbers_agree_on_what_a_length_set_by_hand_loses(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl")
    whistle(application, "19:30")
    application.number_input(key=find(application, "game_gap")).set_value(20.0).run()
    application.session_state["whole_plan"] = True
    say(application, "number", "A1", "17")
    assert not application.exception
    [numbers] = [
        each.value for each in application.dataframe if "standard loses %" in each.value.columns
    ]
    lost = numbers.set_index("athlete").loc["Long One", "lost %"]
    assert f"{percent(lost)} lost at 17" in row(application, "A1")["told"]
    usual = lost_at(shown_store, "jump_height", [("A1", 17.0)], 1)["A1"][0]
    assert abs(lost - usual) > 0.1, "twenty minutes of waiting are not a usual day"


def test_a_game_follows_what_is_said_about_it(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "carl")
    whistle(application, "19:30, 20:10")
    say(application, "tick", "A3", value=False)
    for label, chosen in (("Substitutes", ["A2"]), ("In the start at 20:10", ["A4"])):
        [box] = [each for each in application.multiselect if each.label == label]
        box.set_value(chosen).run()
    application.number_input(key=find(application, "game_gap")).set_value(2.0).run()
    application.text_input(key=find(application, "game_free")).set_value("19:20").run()
    assert not application.exception
    assert "The court is free from 19:20. Not ready in time: by" in application.warning[0].value
    assert "substitute" in row(application, "A2")["why"]
    assert row(application, "A3")["why"] == "away"
    assert "20:10: The standard 15 efforts (1)" in groups(application)
    say(application, "choice", "", "waves")
    assert [each["label"] for each in shown(application)["waves"]] == [
        "Waves before the start at 19:30",
        "Waves before the start at 20:10",
    ]
    for code in ("A1", "A2", "A4", "A5"):
        say(application, "tick", code, value=False)
    assert "Nobody is left for this game" in told(application)
    say(application, "tick", "A1", value=True)
    assert "A1" in {code for codes in groups(application).values() for code in codes}


def test_the_whole_plan_is_one_tap_away(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "carl")
    whistle(application, "19:30")
    assert not application.dataframe
    [box] = [each for each in application.multiselect if each.label == "Substitutes"]
    box.set_value(["A2"])
    application.session_state["whole_plan"] = True
    application.run()
    assert not application.exception
    assert "all are ready at 19:25" in told(application)
    assert "Short Two: after 10 min" in told(application)
    table = application.dataframe[0].value.set_index("athlete")
    assert table.loc["Untested Five", "data"] == "none: the squad's advice"
    assert (table["standard"] == 15.0).all() and (table["does"] == table["advised"]).all()


def test_curves_without_draws_are_worked_out_again_before_a_game(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    keep_artificial_fit(unfitted_store, checked=False)
    application = sign_in(unfitted_store, "carl")
    whistle(application, "19:30")
    assert "from which no game can be planned" in told(application)
