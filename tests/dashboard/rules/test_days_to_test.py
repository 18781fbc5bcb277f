"""Tests in the week: away from games, not too many, never cold, and never beyond the most."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pandas as pd
import pypdfium2
import pytest

from dashboard.app.exports import export_rows
from dashboard.lifting.paper import session_sheet
from dashboard.live_test.state import accept, read_live_test
from dashboard.rules.match_days import game_day_words, games_sentence, squad_day_words
from dashboard.rules.test_days import (
    athlete_days,
    minors_among,
    resting_sentence,
    set_most,
    set_week_rule,
    week_rule,
)
from dashboard.rules.weather_words import air
from dashboard.today.training_plan import plan_sheet
from db.efforts.live_tests import open_tests
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.store import Store
from db.plans.lengths import PlanEntry, save_choice
from db.plans.session_plans import SessionPlan, save_session_plan
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from modeling.day.caution import WeekRule
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.live_test.test_run_test import started
from tests.dashboard.screen.test_status import warned


def game(store: Store, day: date, athlete: str = "A2") -> None:
    at = datetime.combine(day, datetime.min.time()).replace(hour=23, minute=59)
    entry = SessionEntry(athlete, "jump_height", at, (EffortEntry(1, 40.0, 5.0),), context="game")
    add_session(store, entry, "carl")


def test_a_squad_mates_game_counts_and_other_squads_do_not(unfitted_store: Store) -> None:
    squads = pd.DataFrame({"athlete": ["A1", "A2", "A3"], "squad": ["First", "First", "Youth"]})
    save_athletes(unfitted_store, squads, "test")
    game(unfitted_store, date.today())
    known = athlete_days(unfitted_store)
    assert [len(known[code].games) for code in ("A1", "A2", "A3", "A4")] == [1, 1, 0, 0]
    assert known["A1"].around(date.today() + timedelta(days=1)) == "MD+1"
    assert known["A1"].first_day(
        date.today(), week_rule(unfitted_store)
    ) == date.today() + timedelta(days=2)
    assert known["A3"].first_day(date.today(), week_rule(unfitted_store)) == date.today()


def test_a_fade_test_needs_rest_before_its_own_kind_only(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    jumps, throws = (get_measure(unfitted_store, code) for code in ("jump_height", "throw_speed"))
    yesterday = datetime.combine(date.today() - timedelta(days=1), datetime.min.time())
    efforts = tuple(EffortEntry(number, 40.0, number - 1.0) for number in (1, 2, 3))
    entry = SessionEntry("A1", "jump_height", yesterday, efforts, kind="fade")
    add_session(unfitted_store, entry, "carl")
    known, rule = athlete_days(unfitted_store, jumps), week_rule(unfitted_store)
    free = date.today() + timedelta(days=2)
    assert known["A1"].rested_from == known["A1"].first_day(date.today(), rule) == free
    assert athlete_days(unfitted_store, throws)["A1"].first_day(date.today(), rule) == date.today()
    assert known["A2"].against(datetime.now(), rule, fade_test=True) == []
    said = resting_sentence(known, {"A1": "Long One", "A2": "Short Two"}, date.today())
    assert said.startswith("Tested lately") and "Long One (until" in said and "Two" not in said
    assert resting_sentence(known, {"A1": "Long One"}, free) == ""
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    assert "Long One: rest after the last test until" in warned(page)
    assert open_tests(unfitted_store).empty
    assert "Tested lately" in warned(sign_in(unfitted_store, "carl", "before_session"))


def test_no_game_falls_into_the_rest_after_a_fade_test(unfitted_store: Store) -> None:
    day = date.today() + timedelta(days=2)
    whistle = datetime.combine(day, datetime.min.time()) + timedelta(hours=20)
    known = athlete_days(unfitted_store, get_measure(unfitted_store, "jump_height"))
    mine = replace(known["A2"], games=(whistle,))
    at, rule = datetime.combine(date.today(), datetime.min.time()), WeekRule(24.0)
    assert mine.against(at, rule, fade_test=False) == []
    assert mine.against(at, rule, fade_test=True) == [
        "a game is within the 2 days of rest after it"
    ]
    assert mine.first_day(at.date(), rule, fade_test=True) == day + timedelta(days=2)


def test_days_are_named_by_their_distance_from_games() -> None:
    games = [datetime(2026, 11, 21, 19), datetime(2026, 11, 28, 19)]
    days = [date(2026, 11, day) for day in (21, 22, 27)]
    assert [game_day_words(day, games) for day in days] == ["MD", "MD+1, MD-6", "MD+6, MD-1"]
    assert game_day_words(date(2026, 12, 25), games) == ""


def test_a_test_near_a_game_needs_a_reason_which_is_saved(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    game(unfitted_store, date.today() - timedelta(days=1))
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    assert "there was a game the day before" in warned(page)
    assert "Say why you test all the same" in page.error[0].value
    assert open_tests(unfitted_store).empty
    page.text_input(key="test_all_the_same").set_value("last day of the camp")
    page.button(key="test_begin").click().run()
    with unfitted_store.reading() as cursor:
        kept = cursor.execute("SELECT reason, most_efforts, build_up_efforts FROM test_limit")
        assert kept.fetchall() == [("last day of the camp", 80, 3)]


def test_nobody_is_tested_without_a_general_part_unless_somebody_says_why(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(unfitted_store, "carl", "run_test")
    assert "Never cold: a general warm-up" in told(page)
    page.number_input(key="test_general_minutes").set_value(0.0)
    started(page, "A1")
    assert "no general warm-up is planned" in warned(page)
    assert open_tests(unfitted_store).empty
    page.number_input(key="test_general_minutes").set_value(2.0)
    page.button(key="test_begin").click().run()
    assert "the general warm-up has less than 3 minutes" in warned(page)
    assert open_tests(unfitted_store).empty
    page.number_input(key="test_general_minutes").set_value(10.0)
    page.number_input(key="test_build_up").set_value(0)
    page.button(key="test_begin").click().run()
    assert "no submaximal build-up is planned" in warned(page)
    assert open_tests(unfitted_store).empty
    page.number_input(key="test_build_up").set_value(4)
    page.button(key="test_begin").click().run()
    assert len(open_tests(unfitted_store)) == 1


def test_under_18_needs_an_adult_there_and_has_a_lower_most(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    born = date.today().replace(year=date.today().year - 16, day=1).isoformat()
    save_athletes(unfitted_store, pd.DataFrame({"athlete": ["A1"], "born": [born]}), "test")
    page = sign_in(unfitted_store, "carl", "run_test")
    page.multiselect(key="test_athletes").set_value(["A1", "A2"]).run()
    assert "Under 18: Long One. An adult in charge must be there" in warned(page)
    started(page, "A1", "A2")
    assert list(open_tests(unfitted_store)["most_efforts"]) == [48, 80]
    today = told(sign_in(unfitted_store, "carl", "before_session"))
    assert "Under 18: Long One. An adult in charge must be there" in today
    known = athlete_days(unfitted_store)
    many = {str(place): str(place) for place in range(6)}
    all_young = dict.fromkeys(many, known["A1"])
    assert minors_among(all_young, many, date.today()) == ["6 athletes"]
    assert minors_among(known, {"A2": "Short Two"}, date.today()) == []


def test_a_test_is_over_at_its_most_and_says_so(unfitted_store: Store, sign_in: SignIn) -> None:
    new = NewLiveTest(
        "jump_height",
        datetime(2026, 3, 1, 9),
        (NewTest("A1", {"pain": False}, most_efforts=3),),
        Method(),
        StopRule(0.9, 3),
    )
    number = begin_live_test(unfitted_store, new, "carl")
    measure = get_measure(unfitted_store, "jump_height")
    for effort in (1, 2, 3):
        one = read_live_test(unfitted_store, number).standings[0]
        assert not one.is_over
        accept(unfitted_store, one, effort, "40", measure, "carl")
    one = read_live_test(unfitted_store, number).standings[0]
    assert one.is_over and not one.state.over
    with pytest.raises(BadInput, match="The most in one test is reached"):
        accept(unfitted_store, one, 4, "40", measure, "carl")
    page = sign_in(unfitted_store, "carl", "run_test")
    page.query_params["test"] = str(number)
    page.run()
    assert "Long One: 3 efforts are the most in one test" in told(page)


def test_the_rule_of_the_week_and_the_most_are_set(unfitted_store: Store) -> None:
    set_week_rule(unfitted_store, WeekRule(72, 1), "dora")
    assert week_rule(unfitted_store) == WeekRule(72, 1)
    with pytest.raises(BadInput, match="Take 0 to 168 hours"):
        set_week_rule(unfitted_store, replace(WeekRule(), most_in_week=0), "dora")
    with pytest.raises(BadInput, match="take 1 to 200"):
        set_most(unfitted_store, get_measure(unfitted_store, "jump_height"), 0, "dora")


def test_heat_and_cold_get_advice_and_mild_air_gets_none() -> None:
    assert "heat rules" in air(30.0) and "warm clothing" in air(5.0)
    assert air(20.0) == air(None) == ""
    assert "Shorten the general part" in air(33.0) and "some minutes more" in air(5.0)


def test_advice_beside_a_plan_with_times_names_no_other_times() -> None:
    hot, cold = (air(degrees, planned=True) for degrees in (33.0, 5.0))
    assert "heat rules" in hot and "Drink" in hot and "warm clothing" in cold
    assert "general part" not in hot + cold and "later" not in hot


def test_a_day_is_named_for_a_squad_and_for_squads_with_other_games(
    unfitted_store: Store,
) -> None:
    squads = pd.DataFrame({"athlete": ["A1", "A2", "A3"], "squad": ["First", "First", "Youth"]})
    save_athletes(unfitted_store, squads, "test")
    game(unfitted_store, date.today())
    known = athlete_days(unfitted_store)
    before = date.today() - timedelta(days=2)
    assert squad_day_words(before, known, ["A1", "A2"]) == "MD-2"
    assert squad_day_words(before, known, ["A1", "A2", "A3"]) == "MD-2 (2 athletes)"
    assert squad_day_words(date.today() + timedelta(days=8), known, ["A1", "A2"]) == ""
    assert games_sentence(known, before, date.today()).startswith("1 game day in this week: ")
    assert games_sentence(known, before, before) == "No game in this week."


def test_the_name_of_the_day_is_on_pages_sheets_and_exports(
    filled_store: Store, sign_in: SignIn
) -> None:
    game(filled_store, date.today() - timedelta(days=1))
    plan = PlanEntry(date.today(), "A2", "jump_height", "best", 1, 4.0, 15.0, 4.0)
    save_choice(filled_store, plan, "carl")
    session = SessionPlan("Gym", date.today(), "A2", "jump_height")
    number = save_session_plan(filled_store, session, "carl")
    page = sign_in(filled_store, "carl", "before_session")
    assert "**MD+1**" in told(page)
    assert "For Short Two. MD+1." in told(sign_in(filled_store, "carl", "session_plan"))
    for pdf in (
        plan_sheet(filled_store, date.today(), "jump_height"),
        session_sheet(filled_store, number),
    ):
        assert "MD+1" in pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range()
    page = sign_in(filled_store, "carl", "run_test")
    page.multiselect(key="test_athletes").set_value(["A2"]).run()
    assert "**Short Two** MD+1" in told(page)
    rows = export_rows(filled_store, "next-tests", "jump_height")
    assert set(rows["game_day"]) == {"MD+2"}
    assert set(rows["first_day"].dt.date) == {date.today() + timedelta(days=1)}
