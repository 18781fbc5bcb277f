from __future__ import annotations

from dataclasses import replace

import pytest

from db.errors import BadInput
from db.file.checks import check
from db.people.sight import Sight, in_sight
from db.plans.game_days import athlete_games
from db.plans.game_removal import remove_game
from db.plans.games import save_game
from db.plans.kept_games import game_rows, kept_games
from db.plans.lengths import choices, plans, save_choice, take_back_choice
from db.plans.outcomes import Outcome, record_outcomes
from db.plans.trials import TrialEntry, begin_trial, set_trial_session
from db.privacy.trail import trail
from tests.db.plans.test_games import DAY, FIRST, GAME, NOON, PLAN, SECOND


def rows_in(store, table):
    with store.reading() as cursor:
        return cursor.execute(f"SELECT count(*) FROM {table}").fetchall()[0][0]


def test_a_removed_game_is_shown_nowhere_but_its_rows_stay(store):
    save_game(store, GAME, "coach")
    [kept] = kept_games(store, DAY)
    before = {table: rows_in(store, table) for table in ("game", "game_athlete", "plan")}
    remove_game(store, kept, "dora")
    assert kept_games(store, DAY) == [] and game_rows(store).empty
    assert athlete_games(store).empty
    assert plans(store, DAY, "jump_height").empty
    assert choices(store, "A1")["in_force"].tolist() == [False]
    after = {table: rows_in(store, table) for table in before}
    assert after == {"game": 2, "game_athlete": 4, "plan": before["plan"]}
    row = trail(store).to_dict("records")[0]
    assert (row["person"], row["action"]) == ("dora", "remove game")
    assert row["detail"] == f"{DAY} jump_height"
    assert check(store) == []
    with pytest.raises(BadInput, match="changed or removed since"):
        remove_game(store, kept, "dora")
    with pytest.raises(BadInput, match="or its game was removed"):
        take_back_choice(store, int(choices(store, "A1")["plan_id"].iloc[0]), "no", "dora")


def test_a_removed_game_can_be_planned_again_with_new_choices(store):
    save_game(store, GAME, "coach")
    [kept] = kept_games(store, DAY)
    remove_game(store, kept, "coach")
    save_game(store, GAME, "coach")
    [again] = kept_games(store, DAY)
    assert again.game == GAME and again.game_id > kept.game_id
    assert choices(store, "A1")["in_force"].tolist() == [True, False]


def test_a_warm_up_done_before_a_removed_game_stays(store):
    """The game was called off after the warm-up, so the warm-up still counts as done."""
    save_game(store, GAME, "coach")
    [kept] = kept_games(store, DAY)
    held = plans(store, DAY, "jump_height").set_index("athlete")["plan_id"]
    record_outcomes(store, [Outcome(int(held["A1"]), 31.0)], "coach")
    remove_game(store, kept, "coach")
    assert kept_games(store, DAY) == []
    left = plans(store, DAY, "jump_height")
    assert left[["athlete", "done_volume"]].values.tolist() == [["A1", 31.0]]


def test_one_game_of_a_day_is_removed_and_the_other_stays(store):
    plain = (replace(FIRST, plan=replace(PLAN, second_game=False)),)
    noon = replace(GAME, starts=(NOON,), course=replace(GAME.course, earlier_ended_at=None))
    save_game(store, replace(noon, players=plain), "coach")
    save_game(store, GAME, "coach")
    first, second = kept_games(store, DAY)
    # A length set by hand after the game was saved is removed with it.
    save_choice(store, replace(PLAN, chosen_volume=12.0, reason="tired"), "coach")
    remove_game(store, second, "coach")
    assert kept_games(store, DAY) == [first]
    assert plans(store, DAY, "jump_height")["second_game"].tolist() == [False]
    remove_game(store, first, "coach")
    assert kept_games(store, DAY) == []


def test_a_coach_removes_the_game_of_their_own_squad_only(store):
    with store.writing("tester", "squads") as cursor:
        cursor.execute("INSERT INTO athlete_squad VALUES ('A1', 'first'), ('A2', 'second')")
    save_game(store, GAME, "dora")
    anna = in_sight(store, Sight("anna", None, ("first",)))
    [kept] = kept_games(anna, DAY)
    remove_game(anna, kept, "anna")
    assert kept_games(anna, DAY) == []
    assert game_rows(store)["athlete"].tolist() == ["A2"]


def test_an_athlete_left_out_of_a_newer_plan_has_no_length_that_day(store):
    """Otherwise 'all others did it as planned' would record a warm-up that nobody did."""
    save_game(store, GAME, "coach")
    save_game(store, replace(GAME, players=(FIRST,)), "coach")
    assert plans(store, DAY, "jump_height")["athlete"].tolist() == ["A1"]
    assert choices(store, "A2")["in_force"].tolist() == [False]
    save_game(store, replace(GAME, players=(FIRST, SECOND)), "coach")
    assert plans(store, DAY, "jump_height")["athlete"].tolist() == ["A1", "A2"]


def test_a_length_drawn_by_a_trial_stays_when_the_game_is_removed(store):
    trial = begin_trial(
        store, TrialEntry("A1", "jump_height", 38.0, 20.0, 7, [False, True, True, False]), "dora"
    )
    set_trial_session(store, trial, replace(PLAN, second_game=False), "dora")
    plain = replace(FIRST, plan=replace(PLAN, second_game=False))
    course = replace(GAME.course, earlier_ended_at=None)
    save_game(store, replace(GAME, players=(plain,), course=course), "coach")
    [kept] = kept_games(store, DAY)
    remove_game(store, kept, "coach")
    assert plans(store, DAY, "jump_height")["chosen_volume"].tolist() == [38.0]
