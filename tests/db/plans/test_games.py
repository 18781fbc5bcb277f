from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pandas as pd
import pytest

from db.errors import BadInput
from db.file.checks import check
from db.people.sight import Sight, in_sight
from db.plans.game_course import Course
from db.plans.games import BenchRow, Game, GameWave, Player, save_game
from db.plans.kept_games import game_rows, kept_games
from db.plans.lengths import PlanEntry, choices, plans, save_choice, take_back_choice
from db.plans.outcomes import Outcome, record_outcomes, start_values
from db.plans.weeks import plans_between
from db.privacy.erasing import erase_athlete
from tests.db.conftest import dump

DAY = date(2026, 3, 1)
START = datetime(2026, 3, 1, 19, 30)
NOON = datetime(2026, 3, 1, 12, 0)
PLAN = PlanEntry(DAY, "A1", "jump_height", "best", 1, 40.0, 15.0, 38.0, "in wave 1", True)
FIRST = Player(PLAN, "starts", 1, 1, False, 6.0, (0.4, 0.1, 1.2))
SECOND = Player(
    replace(PLAN, athlete="A2", advised_volume=4.0, chosen_volume=6.0, reason="sore calf"),
    "bench",
    1,
    2,
    True,
    10.0,
    (0.2, 0.0, 0.9),
    (BenchRow(15.0, 0.0, (0.3, 0.1, 0.6)), BenchRow(35.0, 3.0, (2.0, 1.0, 3.0))),
    half_time=2.0,
    earlier_volume=12.0,
)
GAME = Game(
    measure="jump_height",
    day=DAY,
    goal="best",
    efforts_to_follow=1,
    place="hall",
    ambient_c=18.0,
    general_minutes=6.0,
    minutes_per_effort=0.5,
    gap_minutes=5.0,
    free_from=None,
    staff=2,
    grouping_cost_pct=(0.2, 0.0, 0.6),
    starts=(START,),
    waves=(GameWave(1, 1, 38.0, 5.0, (0.1, 0.0, 0.2)), GameWave(1, 2, 5.0, 5.0)),
    players=(FIRST, SECOND),
    prevention_minutes=7.0,
    course=Course(60.0, 10.0, True, datetime(2026, 3, 1, 15, 0)),
)


def test_a_game_is_read_as_it_was_saved(store):
    number = save_game(store, GAME, "coach")
    rows = game_rows(store, DAY, "jump_height").set_index("athlete")
    assert rows["game_id"].unique().tolist() == [number]
    assert rows.loc["A1", ["role", "wave", "wave_volume", "chosen_volume"]].tolist() == [
        "starts",
        1,
        38.0,
        38.0,
    ]
    assert rows.loc["A2", ["role", "own_length", "reason", "general_minutes"]].tolist() == [
        "bench",
        True,
        "sore calf",
        10.0,
    ]
    assert rows["starts_at"].tolist() == [START, START]
    assert set(plans(store, DAY, "jump_height")["athlete"]) == {"A1", "A2"}
    [kept] = kept_games(store, DAY, "jump_height")
    assert (kept.game_id, kept.person, kept.game) == (number, "coach", GAME)
    assert kept_games(store, since=START) and not kept_games(store, since=datetime(2026, 3, 2))


def test_an_athlete_left_out_of_a_newer_plan_is_away_and_equal_choices_stay(store):
    save_game(store, GAME, "coach")
    before = plans(store, DAY, "jump_height").set_index("athlete")["plan_id"]
    newer = save_game(store, replace(GAME, gap_minutes=9.0, players=(FIRST,)), "coach")
    rows = game_rows(store, DAY, "jump_height")
    assert rows[["game_id", "athlete", "gap_minutes"]].values.tolist() == [[newer, "A1", 9.0]]
    assert len(choices(store, "A1")) == 1
    assert rows["plan_id"].tolist() == [before["A1"]]


def test_two_squads_plan_the_same_day_without_taking_each_other_out(store):
    with store.writing("tester", "squads") as cursor:
        cursor.execute("INSERT INTO athlete_squad VALUES ('A1', 'first'), ('A2', 'second')")
    first = in_sight(store, Sight("anna", None, ("first",)))
    second = in_sight(store, Sight("berta", None, ("second",)))
    save_game(first, replace(GAME, players=(FIRST,)), "anna")
    save_game(second, replace(GAME, gap_minutes=9.0, players=(SECOND,)), "berta")
    assert game_rows(first)["athlete"].tolist() == ["A1"]
    assert game_rows(second)["athlete"].tolist() == ["A2"]
    save_game(store, replace(GAME, gap_minutes=7.0, players=(FIRST,)), "dora")
    assert game_rows(store).set_index("athlete")["gap_minutes"].to_dict() == {"A1": 7.0, "A2": 9.0}
    with pytest.raises(BadInput, match="no athlete 'A2'"):
        save_game(first, GAME, "anna")


def test_a_newer_plan_replaces_only_its_own_of_two_games_on_a_day(store, bring):
    alone = (replace(FIRST, plan=replace(PLAN, second_game=False)),)
    both = (*alone, replace(SECOND, plan=replace(SECOND.plan, second_game=False)))
    noon = replace(GAME, starts=(NOON,), course=Course(60.0, 10.0), players=both)
    first = save_game(store, noon, "coach")
    by_athlete = plans(store, DAY, "jump_height").set_index("athlete")["plan_id"]
    record_outcomes(store, [Outcome(int(by_athlete["A1"]), 31.0, 41.0)], "coach")
    second = save_game(store, GAME, "coach")
    assert [(kept.game_id, kept.game) for kept in kept_games(store, DAY)] == [
        (first, noon),
        (second, GAME),
    ]
    # The second game has choices of its own, even where they are the same.
    held = plans(store, DAY, "jump_height")
    assert held[["athlete", "second_game"]].values.tolist() == [
        ["A1", False],
        ["A1", True],
        ["A2", False],
        ["A2", True],
    ]
    assert held["done_volume"].tolist()[0] == 31.0 and held["done_volume"].isna().sum() == 3
    record_outcomes(store, [Outcome(int(held["plan_id"][1]), 38.0)], "coach")
    assert plans(store, DAY, "jump_height")["done_volume"].tolist()[:2] == [31.0, 38.0]
    assert choices(store, "A1")["in_force"].tolist() == [True, True]
    # A newer plan of one game changes nothing in the other, not even who is away.
    third = save_game(store, replace(noon, gap_minutes=9.0, players=alone), "coach")
    held_now = game_rows(store, DAY)[["game_id", "athlete"]].values.tolist()
    assert held_now == [[third, "A1"], [second, "A1"], [second, "A2"]]
    fourth = save_game(store, replace(GAME, players=(FIRST,)), "coach")
    assert game_rows(store, DAY)["game_id"].tolist() == [third, fourth]
    assert plans(store, DAY, "jump_height", False)["done_volume"].tolist()[0] == 31.0
    # Start values: the first effort before the earlier game ended, and the first after that.
    bring(
        "A1,2026-03-01T12:00,jump_height,1,44,31,routine,game",
        "A1,2026-03-01T19:30,jump_height,1,46,38,routine,game",
        header="athlete,started_at,measure,effort,value,volume_before,kind,context",
    )
    found = [start_values(store, DAY, "jump_height", which) for which in (False, True)]
    assert [rows["value"].tolist() for rows in found] == [[44.0], [46.0]]
    rows = plans_between(store, "jump_height", DAY, DAY).query("athlete == 'A1'")
    assert rows[["done_volume", "start_value"]].values.tolist() == [[31.0, 41.0], [38.0, 46.0]]


def test_a_coach_of_one_squad_has_both_games_of_a_day(store):
    with store.writing("tester", "squads") as cursor:
        cursor.execute("INSERT INTO athlete_squad VALUES ('A1', 'first')")
    anna = in_sight(store, Sight("anna", None, ("first",)))
    plain = replace(FIRST, plan=replace(PLAN, second_game=False))
    noon = replace(GAME, starts=(NOON,), course=Course(), players=(plain,))
    for game in (noon, replace(GAME, players=(FIRST,))):
        save_game(anna, game, "anna")
    assert [kept.game.course for kept in kept_games(anna, DAY)] == [Course(), GAME.course]
    assert plans(anna, DAY, "jump_height")["second_game"].tolist() == [False, True]


def test_taking_back_a_length_for_the_second_game_leaves_the_first_one(store):
    first = save_choice(store, replace(PLAN, second_game=False, chosen_volume=20.0), "coach")
    second = [save_choice(store, replace(PLAN, chosen_volume=n), "coach") for n in (30.0, 34.0)]
    take_back_choice(store, second[-1], "typed wrong", "coach")
    held = plans(store, DAY, "jump_height")
    assert held["chosen_volume"].tolist() == [20.0, 30.0]
    assert held["plan_id"].tolist()[0] == first


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"players": (replace(FIRST, plan=replace(PLAN, second_game=False)),)},
            "for the same game of the day",
        ),
        ({"players": ()}, "needs a time to start and at least one athlete"),
        ({"place": "pool"}, "no place 'pool'. The places are hall, outdoors"),
        ({"starts": (datetime(2026, 3, 2),)}, "must be on the day of the game"),
        ({"players": (replace(FIRST, role="coach"),)}, "no role 'coach'"),
        ({"players": (replace(FIRST, start_number=2),)}, "no start 2"),
        ({"players": (replace(FIRST, wave=3),)}, "no wave 3 before start 1"),
        (
            {"players": (replace(FIRST, plan=replace(PLAN, measure="throw_speed")),)},
            "for the day and the measure of the game",
        ),
    ],
)
def test_games_that_cannot_be_saved(store, change, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        save_game(store, replace(GAME, **change), "coach")
    assert dump(store) == before


def test_erasing_an_athlete_leaves_the_game_of_the_others(closed_store):
    store = closed_store
    save_game(store, GAME, "coach")
    erase_athlete(store, "A2", "director")
    [kept] = kept_games(store)
    assert [player.plan.athlete for player in kept.game.players] == ["A1"]
    assert check(store) == []
    assert b"sore calf" not in store.path.read_bytes()


def test_outcomes_of_a_game_are_recorded_together_or_not_at_all(store):
    numbers = [save_choice(store, replace(PLAN, athlete=code), "coach") for code in ("A1", "A2")]
    with pytest.raises(BadInput, match="There is no plan 99"):
        record_outcomes(store, [Outcome(numbers[0], 38.0), Outcome(99, 0.0)], "coach")
    assert plans(store, DAY, "jump_height")["done_volume"].isna().all()
    record_outcomes(store, [Outcome(numbers[0], 38.0, 41.0), Outcome(numbers[1], 0.0)], "coach")
    rows = plans(store, DAY, "jump_height").set_index("athlete")
    assert rows["done_volume"].to_dict() == {"A1": 38.0, "A2": 0.0}
    assert rows.loc["A1", "outcome"] == 41.0 and pd.isna(rows.loc["A2", "outcome"])


def test_the_start_value_is_the_first_effort_of_the_game(store, bring):
    header = "athlete,started_at,measure,effort,value,volume_before,kind,context"
    bring(
        "A1,2026-03-01T09:00,jump_height,1,40,0,routine,training",
        "A1,2026-03-01T19:30,jump_height,1,44,15,routine,game",
        "A1,2026-03-01T19:30,jump_height,2,45,16,routine,game",
        "A2,2026-03-01T08:00,jump_height,1,50,0,fade,",
        "A2,2026-03-01T09:00,jump_height,1,39,12,routine,",
        "A2,2026-03-02T09:00,jump_height,1,38,12,routine,game",
        header=header,
    )
    found = start_values(store, DAY, "jump_height")
    assert found[["athlete", "value", "volume"]].values.tolist() == [
        ["A1", 44.0, 15.0],
        ["A2", 39.0, 12.0],
    ]


@pytest.mark.parametrize(
    ("course", "said"),
    [
        (Course(recovery_seconds=-1.0), "recovery is -1 s"),
        (Course(half_time_minutes=90.0), "Half-time is 90 minutes"),
        (Course(earlier_ended_at=START), "ended at 19:30. That must be before"),
        (Course(earlier_ended_at=datetime(2026, 2, 28, 15, 0)), "on the same day"),
    ],
)
def test_an_impossible_course_is_refused(store, course, said):
    with pytest.raises(BadInput, match=said):
        save_game(store, replace(GAME, course=course), "coach")
