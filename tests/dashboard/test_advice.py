"""Advice on the page and by the command, on the artificial club."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from dashboard import advice_words
from dashboard.fitting import fit_measure
from dashboard.kept_curves import kept_draws, most_done
from dashboard.words import CAUTION
from db.store import Store
from modeling import CurveDraws
from modeling.account import Account, Circumstances
from modeling.bench_time import bench_times
from modeling.demand import fade_against_demand
from modeling.goal_advice import Limits, ToFollow, advise
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.test_command_line import run

VOLUME = np.arange(0.0, 81.0)
LINE = CurveDraws(
    athlete="A1",
    sessions=4,
    efforts=40,
    volume=VOLUME,
    change=np.repeat(-0.01 * np.abs(VOLUME - 20.0)[:, None], 5, axis=1),
    account=Account(),
    usual=Circumstances(),
    standard_volume=15.0,
    worthwhile_pct=1.0,
)


@pytest.fixture(scope="module")
def advised(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("advice") / "club.duckdb")
    fill(store, fitted=False)
    fit_measure(store, "jump_height", "test")
    return store


def test_advice_is_told_with_interval_count_and_reason() -> None:
    told = advice_words.advice_sentences(advise(LINE), "efforts", most_done=30.0)
    assert told == [
        "Expected: 0.0\u00a0% (0.0 to 0.0) against the athlete's own peak; 90\u00a0% interval"
        " in brackets, from 4 sessions.",
        "The curve is expected to be highest here.",
    ]
    beyond = advice_words.advice_sentences(advise(LINE), "efforts", most_done=12.0)
    assert "more than this athlete has ever done here (12 efforts)" in beyond[-1]


def test_other_lengths_stand_beside_the_advised_one() -> None:
    table = advice_words.alternatives_table(advise(LINE))
    assert table["other length"].tolist() == [
        "standard",
        "a quarter less",
        "a quarter more",
        "none",
    ]
    assert table["do"].tolist() == ["15", "15", "25", "0"]
    assert table["gives away"].iloc[0] == "4.9\u00a0%"


def test_a_rest_and_a_demand_are_told() -> None:
    table = advice_words.bench_table(bench_times(LINE, 20.0, minutes=(1.0, 21.0)), "efforts")
    # 21 minutes leave 10 of 20; within 1 % of the peak begins at 19.
    assert table["do again"].tolist() == ["nothing", "9 efforts"]
    lost = advice_words.demand_sentence(fade_against_demand(LINE, 40, 20.0), 0.0)
    assert lost.startswith("Down 10\u00a0% at effort 12 (12 to 12) of the 40 asked for")
    assert lost.endswith("Condition for the last 29.")
    unsaid = advice_words.demand_sentence(fade_against_demand(LINE, 40, 20.0))
    assert "Condition for" not in unsaid and "recovery between them: give it" in unsaid
    fine = advice_words.demand_sentence(fade_against_demand(LINE, 5, 20.0), 0.0)
    assert "not expected within the 5 efforts" in fine


def test_the_command_says_what_the_model_says(advised: Store) -> None:
    asked = ["advise", "--db", str(advised.path), "--athlete", "A1", "--measure", "jump_height"]
    curve = kept_draws(advised, "jump_height")["A1"]
    shorter = run(*asked, "--goal", "sustained", "--efforts", "9", "--limit", "4", "--json")
    found = json.loads(shorter.stdout)
    expected = advise(curve, ToFollow("sustained", 9), limits=Limits(volume=4.0))
    assert (found["volume"], found["limited"]) == (expected.volume, expected.limited)
    assert found["measure"] == "jump_height"
    plain = run(*asked, "--rest", "15", "--general", "5", "--ambient", "3", "--at", "09:30")
    assert plain.exit_code == 0 and plain.stderr == ""
    told = plain.stdout.splitlines()
    expected = advise(curve, around=Circumstances(5.0, 15.0, 3.0, 9.5))
    assert told[0] == f"A1, jump height: {expected.volume:g} efforts."
    assert told[1] == (
        "After 5 min of general warm-up, 15 min before the start at 9:30, in 3 degrees."
    )
    instead = [line for line in told if line.startswith("Instead ")]
    assert len(instead) == len(expected.alternatives) == 4
    assert re.match(
        r"Instead standard, 15 efforts: [−\d.]+ % \([−\d.]+ to [−\d.]+\) lost", instead[0]
    )
    assert told[-1] == CAUTION


@pytest.mark.parametrize(
    ("athlete", "measure", "sentence"),
    [
        ("A77", "jump_height", "There is no athlete 'A77'"),
        ("A1", "sprint_10m", "Run `warmcurve fit --measure sprint_10m` first"),
        ("A1", "jumps", "There is no measure 'jumps'"),
    ],
)
def test_the_command_says_what_is_missing(
    advised: Store, athlete: str, measure: str, sentence: str
) -> None:
    asked = "--athlete", athlete, "--measure", measure
    refused = run("advise", "--db", advised.path, *asked)
    assert refused.exit_code == 1 and sentence in refused.stderr


def test_the_most_done_is_that_of_the_measure(advised: Store) -> None:
    assert most_done(advised, "jump_height", "A1") == 11.0
    assert most_done(advised, "jump_height", "A5") is None
