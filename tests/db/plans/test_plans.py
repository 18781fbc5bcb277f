from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from db.errors import BadInput
from db.plans.lengths import PlanEntry, away_from, plans, save_choice, save_training
from db.plans.outcomes import record_outcome
from tests.db.conftest import dump

DAY = date(2026, 3, 1)
PLAN = PlanEntry(DAY, "A1", "jump_height", "best", 1, 5.0, 10.0, 6.0, "feels slow today")


def test_the_newest_choice_counts_and_older_ones_are_kept(store):
    assert plans(store, DAY, "jump_height").empty
    first = save_choice(store, PLAN, "coach")
    other = save_choice(store, replace(PLAN, athlete="A2", advised_volume=None), "coach")
    second = save_choice(store, replace(PLAN, chosen_volume=7.0, reason=""), "director")
    rows = plans(store, DAY, "jump_height")
    assert rows["plan_id"].tolist() == [second, other]
    assert rows[["athlete", "name", "chosen_volume", "person"]].values.tolist() == [
        ["A1", "A1", 7.0, "director"],
        ["A2", "A2", 6.0, "coach"],
    ]
    assert pd.isna(rows["advised_volume"][1])
    assert plans(store, date(2026, 3, 2), "jump_height").empty
    assert plans(store, DAY, "throw_speed").empty
    with store.reading() as cursor:
        kept = cursor.execute("SELECT reason FROM plan WHERE plan_id = ?", [first]).fetchone()
    assert kept == ("feels slow today",)


def test_the_done_volume_and_the_outcome_are_shown_with_the_plan(store):
    number = save_choice(store, PLAN, "coach")
    record_outcome(store, number, 8.0, 44.5, "coach")
    row = plans(store, DAY, "jump_height").iloc[0]
    assert (row["chosen_volume"], row["done_volume"], row["outcome"]) == (6.0, 8.0, 44.5)


def test_athletes_away_from_training_are_saved_with_those_who_are_here(store):
    other = replace(PLAN, athlete="A2")
    with pytest.raises(BadInput, match="no athlete 'A9'"):
        save_training(store, [PLAN], [replace(PLAN, athlete="A9")], "coach")
    assert plans(store, DAY, "jump_height").empty
    save_training(store, [PLAN], [other], "coach")
    assert away_from(store, DAY, "jump_height") == {"A2"}
    assert away_from(store, DAY, "throw_speed") == away_from(store, date(2026, 3, 2), "x") == set()
    save_training(store, [other], [PLAN], "coach")
    assert away_from(store, DAY, "jump_height") == {"A1"}
    [row] = plans(store, DAY, "jump_height").to_dict("records")
    assert row["athlete"] == "A2"
    record_outcome(store, row["plan_id"], 8.0, None, "coach")
    save_training(store, [], [other], "coach")
    assert plans(store, DAY, "jump_height")["athlete"].tolist() == ["A2"], "it has been done"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"goal": "win"}, "no goal 'win'. The goals are best, sustained, growth"),
        ({"efforts_to_follow": 0}, "efforts to follow are 0; they must be 1 to 10000"),
        ({"chosen_volume": -1.0}, "chosen volume is -1; it must be 0 to 10000"),
        ({"advised_volume": float("nan")}, "advised volume is nan"),
        ({"standard_volume": float("inf")}, "standard volume is inf"),
        ({"athlete": "A9"}, "no athlete 'A9'"),
        ({"measure": "jump"}, "no measure 'jump'"),
    ],
)
def test_choices_that_cannot_be_saved(store, change, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        save_choice(store, replace(PLAN, **change), "coach")
    assert dump(store) == before


def test_outcomes_that_cannot_be_recorded(store):
    number = save_choice(store, PLAN, "coach")
    before = dump(store)
    for done, outcome, sentence in (
        (-1.0, None, "done volume is -1"),
        (None, 0.0, "outcome is 0; it must be a number above 0"),
        (None, float("nan"), "outcome is nan"),
    ):
        with pytest.raises(BadInput, match=sentence):
            record_outcome(store, number, done, outcome, "coach")
    with pytest.raises(BadInput, match="no plan 99"):
        record_outcome(store, 99, 1.0, None, "coach")
    assert dump(store) == before
