from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from db.errors import BadInput
from db.people.accounts import Person
from db.people.sight import in_sight, sight_of
from db.plans.lifted_sets import add_lifted_set, lifted_sets, strike_out_set
from db.plans.planned_exercises import (
    PlannedExercise,
    copy_session_plan,
    planned_exercises,
    save_planned_exercises,
)
from db.plans.readiness import Readiness, readiness, save_readiness
from db.plans.session_plans import (
    SessionPlan,
    delete_session_plan,
    get_session_plan,
    list_session_plans,
    save_session_plan,
)
from db.privacy.erasing import erase_athlete
from db.roster.athletes import save_athletes
from tests.db.conftest import dump

DAY = date(2026, 3, 2)
PLAN = SessionPlan("Lower body", DAY, "A1", "jump_height", "kg", 20.0, "20;10;5", 6.0)
SQUAT = PlannedExercise(
    "back_squat", "strength", load=100.0, tested_load=90.0, tested_repetitions=5
)
JUMP = PlannedExercise("drop_jump", "power", on_bar=False)


def test_a_plan_is_made_changed_and_copied(store):
    number = save_session_plan(store, PLAN, "coach")
    save_planned_exercises(store, number, [JUMP, SQUAT], "coach")
    assert save_session_plan(store, replace(PLAN, stiff=True), "coach", number) == number
    save_planned_exercises(store, number, [SQUAT, JUMP], "coach")
    assert get_session_plan(store, number) == replace(PLAN, stiff=True)
    assert planned_exercises(store, number) == [SQUAT, JUMP]
    later = replace(PLAN, day=date(2026, 3, 9), athlete=None)
    copied = copy_session_plan(store, number, later, "coach")
    assert planned_exercises(store, copied) == [SQUAT, JUMP]
    rows = list_session_plans(store)
    assert rows["session_plan_id"].tolist() == [copied, number]
    assert rows["exercises"].tolist() == [2, 2]
    assert rows["athlete_name"][1] == "A1" and pd.isna(rows["athlete"][0])


def test_ticked_readiness_is_saved_and_deleted_with_the_plan(store):
    number = save_session_plan(store, PLAN, "coach")
    save_planned_exercises(store, number, [SQUAT], "coach")
    assert readiness(store, number) is None
    for ticked in (Readiness(joints=True), Readiness(True, True, True, True)):
        save_readiness(store, number, ticked, "coach")
        assert readiness(store, number) == ticked
    delete_session_plan(store, number, "coach")
    assert list_session_plans(store).empty and planned_exercises(store, number) == []
    with pytest.raises(BadInput, match=f"There is no session plan {number}. Choose one"):
        get_session_plan(store, number)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"name": " "}, "needs a name of 1 to 60"),
        ({"note": "x" * 401}, "401 characters; 400 are allowed"),
        ({"load_unit": "stone"}, "Loads are in kg or lb"),
        ({"bar_load": -1.0}, "The bar is -1; it must be 0 to 2000"),
        ({"general_minutes": float("nan")}, "general part in minutes is nan"),
        ({"general_minutes": 0.0}, "is 0; it must be 3 to 60. Nobody begins cold"),
        ({"static_hold_s": 601.0}, "static hold in seconds is 601; it must be 0 to 600"),
        ({"athlete": "A9"}, "no athlete 'A9'"),
        ({"measure": "hop"}, "no measure 'hop'"),
    ],
)
def test_plans_that_cannot_be_saved(store, change, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        save_session_plan(store, replace(PLAN, **change), "coach")
    assert dump(store) == before


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"goal": "fun"}, "no goal 'fun'. The goals are skill, speed"),
        ({"working_sets": 0}, "Exercise 2: working sets must be 1 to 20. Got 0"),
        ({"repetitions": 101}, "repetitions must be 1 to 100"),
        ({"tested_repetitions": 11}, "repetitions of the set to go by must be 2 to 10. Got 11"),
        ({"tested_load": None}, "the set to go by needs its load and its repetitions"),
        ({"load": float("inf")}, "the load must be above 0, to 2000. Got inf"),
        ({"one_repetition_max": 0.0}, "one-repetition maximum must be above 0"),
        ({"exercise": "hop"}, "no exercise 'hop'"),
    ],
)
def test_exercises_that_cannot_be_planned(store, change, sentence):
    number = save_session_plan(store, PLAN, "coach")
    save_planned_exercises(store, number, [SQUAT], "coach")
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        save_planned_exercises(store, number, [JUMP, replace(SQUAT, **change)], "coach")
    assert dump(store) == before


def test_thirty_exercises_at_most(store):
    number = save_session_plan(store, PLAN, "coach")
    with pytest.raises(BadInput, match="30 exercises at most"):
        save_planned_exercises(store, number, [JUMP] * 31, "coach")


def test_sets_are_listed_by_day_until_they_are_struck_out(store):
    late = add_lifted_set(store, "A1", "back_squat", DAY, 100.0, 0.6, "coach")
    early = add_lifted_set(store, "A1", "back_squat", date(2026, 2, 1), 60.0, 0.9, "coach")
    add_lifted_set(store, "A2", "back_squat", DAY, 60.0, 0.9, "coach")
    assert lifted_sets(store, "A1", "back_squat", DAY)["set_id"].tolist() == [early, late]
    assert lifted_sets(store, "A1", "back_squat", date(2026, 3, 1))["set_id"].tolist() == [early]
    strike_out_set(store, early, "coach")
    assert lifted_sets(store, "A1", "back_squat", DAY)["load_kg"].tolist() == [100.0]
    with pytest.raises(BadInput, match="There is no set 99"):
        strike_out_set(store, 99, "coach")


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (("A9", "back_squat", DAY, 60.0, 0.9), "no athlete 'A9'"),
        (("A1", "hop", DAY, 60.0, 0.9), "no exercise 'hop'"),
        (("A1", "back_squat", DAY, 0.0, 0.9), "load must be above 0, to 1000 kg. Got 0"),
        (("A1", "back_squat", DAY, 60.0, 9.0), "speed must be 0.05 to 6 m/s. Got 9"),
    ],
)
def test_sets_that_cannot_be_stored(store, values, sentence):
    with pytest.raises(BadInput, match=sentence):
        add_lifted_set(store, *values, "coach")


def test_a_coach_of_one_squad_sees_plans_for_its_athletes_and_for_no_athlete(store):
    squads = pd.DataFrame({"athlete": ["A1", "A2"], "squad": ["One", "Two"]})
    save_athletes(store, squads, "tester")
    numbers = {
        athlete: save_session_plan(store, replace(PLAN, athlete=athlete), "director")
        for athlete in ("A1", "A2", None)
    }
    for number in numbers.values():
        save_planned_exercises(store, number, [SQUAT], "director")
    hidden = add_lifted_set(store, "A1", "back_squat", DAY, 60.0, 0.9, "director")
    seen = in_sight(store, sight_of(Person("yara", "Yara", "coach", squads=("Two",))))
    shown = list_session_plans(seen)["session_plan_id"].tolist()
    assert sorted(shown) == sorted([numbers["A2"], numbers[None]])
    save_planned_exercises(seen, numbers["A2"], [JUMP], "yara")
    assert planned_exercises(store, numbers["A2"]) == [JUMP]
    assert planned_exercises(seen, numbers["A1"]) == []
    before = dump(store)
    for write in (
        lambda: save_planned_exercises(seen, numbers["A1"], [JUMP], "yara"),
        lambda: save_session_plan(seen, replace(PLAN, athlete="A2"), "yara", numbers["A1"]),
        lambda: save_session_plan(seen, PLAN, "yara"),
        lambda: save_readiness(seen, numbers["A1"], Readiness(), "yara"),
        lambda: delete_session_plan(seen, numbers["A1"], "yara"),
        lambda: add_lifted_set(seen, "A1", "back_squat", DAY, 60.0, 0.9, "yara"),
        lambda: strike_out_set(seen, hidden, "yara"),
    ):
        with pytest.raises(BadInput, match="There is no"):
            write()
    assert dump(store) == before
    own = in_sight(store, sight_of(Person("anna", "Anna", "athlete", "A2")))
    assert list_session_plans(own)["session_plan_id"].tolist() == [numbers["A2"]]


def test_plans_and_sets_are_erased_with_the_athlete(closed_store):
    number = save_session_plan(closed_store, PLAN, "coach")
    save_planned_exercises(closed_store, number, [SQUAT], "coach")
    save_readiness(closed_store, number, Readiness(), "coach")
    add_lifted_set(closed_store, "A1", "back_squat", DAY, 60.0, 0.9, "coach")
    kept = save_session_plan(closed_store, replace(PLAN, athlete=None), "coach")
    erase_athlete(closed_store, "A1", "director")
    after = dump(closed_store)
    assert [
        len(after[table]) for table in ("planned_exercise", "session_readiness", "lifted_set")
    ] == [
        0,
        0,
        0,
    ]
    assert list_session_plans(closed_store)["session_plan_id"].tolist() == [kept]
