"""Advice on the page and by the command, on the artificial club."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pandas as pd
import pytest

from dashboard.athlete import advice_words
from dashboard.core.cautions import CAUTION
from dashboard.curve import words
from dashboard.fits.fitting import fit_measure
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.rules.club_limits import check_choice, limits_by_athlete, set_most_allowed
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.store import Store
from db.plans.lengths import PlanEntry
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from db.roster.statuses import set_status
from modeling import CurveDraws
from modeling.curve.account import Account, Circumstances
from modeling.curve.length import Limits, Needs
from modeling.day.bench_time import bench_times
from modeling.day.demand import fade_against_demand
from modeling.day.goal_advice import ToFollow, advise
from tests.dashboard.app.test_command_line import run
from tests.dashboard.conftest import add_routine_sessions, fill, new_store

VOLUME = np.arange(0.0, 81.0)
LINE = CurveDraws(
    athlete="A1",
    sessions=4,
    efforts=40,
    volume=VOLUME,
    change=np.repeat(-0.01 * np.abs(VOLUME - 20.0)[:, None], 5, axis=1),
    account=Account(),
    usual=Circumstances(),
    needs=Needs(15.0, "long", 20.0, (19.0, 21.0)),
    worthwhile_pct=1.0,
)


@pytest.fixture(scope="module")
def advised(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("advice") / "club.duckdb")
    fill(store, fitted=False)
    fit_measure(store, "jump_height", "test")
    return store


def test_advice_is_told_with_interval_count_and_reason() -> None:
    assert advice_words.advice_sentences(advise(LINE), "efforts") == [
        "0.0\u00a0% (0.0 to 0.0) is lost against the athlete's own best; 90\u00a0% interval in"
        " brackets, from 4 sessions.",
        "The athlete is still getting better at the standard, so this is longer.",
        "Good range on a usual day: 19 to 21 efforts.",
    ]
    capped = advise(replace(LINE, limits=Limits(30.0, 17.0)))
    assert advice_words.reason(capped, "efforts").endswith(
        "20 would be better; capped at 17, the most allowed. Fill up with easy, submaximal efforts."
    )
    step = advise(replace(LINE, limits=Limits(12.0, 25.0)))
    assert "at most a quarter over the most done so far" in advice_words.reason(step, "efforts")
    waits = advise(LINE, around=Circumstances(rest_minutes=8.0))
    told = advice_words.headline(waits, "efforts")
    assert told.startswith("20 efforts, after the wait move easily and build up, then ")
    assert told.endswith(" more shortly before the start")
    assert advice_words.whole_reason(waits, "efforts").endswith(f"{told.split(', after ')[1]}."[3:])
    kept = advise(
        replace(LINE, needs=replace(LINE.needs, call="either"), limits=Limits(12.0, 25.0)),
        around=Circumstances(rest_minutes=60.0),
    )
    assert (kept.volume, kept.length.top_up) == (10.0, 5.0)
    assert advice_words.reason(kept, "efforts").endswith(
        "Of the 15 that may be done, 5 are kept for shortly before the start."
    )
    # If part of the standard is kept for later, or a limit cuts it, it does not stay.
    unknown = replace(LINE, needs=replace(LINE.needs, call="not known", good_range=None))
    assert advice_words.reason(advise(unknown), "efforts").endswith("so the standard stays.")
    for limits, rest in ((Limits(12.0, 25.0), 60.0), (Limits(12.0, 9.0), 0.0)):
        less = advise(replace(unknown, limits=limits), around=Circumstances(rest_minutes=rest))
        assert less.volume < 15.0 and "stays" not in advice_words.reason(less, "efforts")
    names = advice_words.alternatives_table(waits)["other length"].tolist()
    assert names[0] == "the standard and nothing again"


def test_other_lengths_are_listed_beside_the_advised_one() -> None:
    table = advice_words.alternatives_table(advise(LINE))
    assert table["other length"].tolist() == [
        "the standard",
        "a quarter more",
        "the general part only",
    ]
    assert table["do"].tolist() == ["15", "25", "0"]
    assert table["lost"].iloc[0] == "4.9\u00a0%"
    # The advised length is not listed as another length.
    stays = advise(replace(LINE, needs=replace(LINE.needs, call="either")))
    assert stays.volume == stays.alternatives[0].volume == 15.0
    assert "the standard" not in advice_words.alternatives_table(stays)["other length"].tolist()
    assert advice_words.alternative_sentences(stays, "efforts")[-1].startswith(
        "Instead the general part only: "
    )


def test_a_rest_and_a_demand_are_told() -> None:
    table = advice_words.bench_table(bench_times(LINE, 20.0, minutes=(1.0, 21.0)), "efforts")
    # After 21 minutes 10 of 20 still count, and 19 are needed to be within 1 % of the peak.
    assert table["do again"].tolist() == ["easy moving only", "9 efforts"]
    lost = advice_words.demand_sentence(fade_against_demand(LINE, 40, 20.0), 0.0)
    assert lost.startswith(
        "With 0\u00a0s between two: down 10\u00a0% at effort 12 (12 to 12) of the 40"
    )
    assert lost.endswith("Condition for the last 29.")
    unsaid = advice_words.demand_sentence(fade_against_demand(LINE, 40, 20.0))
    assert "Condition for" not in unsaid and "Enter the recovery between two" in unsaid
    fine = advice_words.demand_sentence(fade_against_demand(LINE, 5, 20.0), 0.0)
    assert "not expected within the 5 efforts" in fine


def test_the_command_says_what_the_model_says(advised: Store) -> None:
    asked = ["advise", "--db", str(advised.path), "--athlete", "A1", "--measure", "jump_height"]
    curve = kept_draws(advised, "jump_height")["A1"]
    shorter = run(*asked, "--goal", "sustained", "--efforts", "9", "--limit", "4", "--json")
    found = json.loads(shorter.stdout)
    expected = advise(curve, ToFollow("sustained", 9), limit=4.0)
    assert (found["volume"], found["limited"]) == (expected.volume, True)
    assert found["measure"] == "jump_height"
    plain = run(*asked, "--rest", "15", "--general", "5", "--ambient", "3", "--at", "09:30")
    assert plain.exit_code == 0 and plain.stderr == ""
    told = plain.stdout.splitlines()
    expected = advise(curve, around=Circumstances(5.0, 15.0, 3.0, 9.5))
    assert told[0].startswith(f"Long One (A1), jump height: {expected.volume:g} efforts")
    assert told[2] == "Efforts: maximal countermovement jumps, hands on hips, 15 s between two."
    assert told[1] == (
        "After 5 min of general warm-up, 15 min before the start at 9:30, in 3 degrees."
    )
    instead = [line for line in told if line.startswith("Instead ")]
    # The standard is advised here, so it is not listed again as another length.
    assert expected.volume == 15 and not expected.length.top_up
    assert len(instead) == len(expected.alternatives) - 1 == 2
    number = r"[−\d.]+"
    ends = rf"{number} % \({number} to {number}\) lost"
    assert re.match(rf"Instead a quarter less, 11 efforts: {ends}", instead[0])
    assert re.match(rf"Instead the general part only: {ends}", instead[1])
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


def test_the_most_done_counts_warm_ups_and_not_tests(filled_store: Store) -> None:
    measure = get_measure(filled_store, "jump_height")
    fade_tests_only = limits_by_athlete(filled_store, measure, 9.0, ["A1"])["A1"]
    assert (fade_tests_only.most_done, fade_tests_only.most_allowed) == (9.0, 25.0)
    add_routine_sessions(filled_store)
    set_most_allowed(filled_store, measure, 30.0, "test")
    after = limits_by_athlete(filled_store, measure, 9.0, ["A1", "A5"])
    assert (after["A1"].most_done, after["A5"].most_done) == (16.0, 9.0)
    assert after["A1"].most_allowed == 30.0


def test_a_length_above_the_most_needs_a_reason_and_goes_up_step_by_step(
    filled_store: Store,
) -> None:
    add_routine_sessions(filled_store)
    measure = get_measure(filled_store, "jump_height")
    set_most_allowed(filled_store, replace(measure, standard_volume=None), 15.0, "test")
    plan = PlanEntry(date.today(), "A1", "jump_height", "best", 1, 15.0, 9.0, 18.0)
    with pytest.raises(BadInput, match="18 efforts for Long One are above the 15 efforts.*Say why"):
        check_choice(filled_store, plan)
    # While a length is being typed, its reason is not there yet.
    check_choice(filled_store, plan, typed=True)
    check_choice(filled_store, replace(plan, reason="final, used to it"))
    for most in (21.0, 10_000.0):
        with pytest.raises(BadInput, match="is too much"):
            check_choice(filled_store, replace(plan, chosen_volume=most, reason="eager"))


def test_under_18_every_length_keeps_to_the_lower_most_of_minors(filled_store: Store) -> None:
    """Even the standard may not go above a minor's most."""
    measure = get_measure(filled_store, "jump_height")
    assert responses(filled_store, "jump_height", "A4")["length"].iloc[0] == 15.0
    set_most_allowed(filled_store, replace(measure, standard_volume=None), 20.0, "test")
    born = date.today().replace(year=date.today().year - 16, day=1)
    told = pd.DataFrame({"athlete": ["A1", "A4"], "born": [born.isoformat()] * 2})
    save_athletes(filled_store, told, "test")
    young = responses(filled_store, "jump_height").set_index("athlete")
    assert dict(young.loc[["A1", "A4"], "length"]) == {"A1": 12.0, "A4": 12.0}
    assert dict(young.loc[["A1", "A2"], "most_allowed"]) == {"A1": 12.0, "A2": 20.0}
    later = date(date.today().year + 3, 1, 1)
    assert limits_by_athlete(filled_store, measure, 9.0, ["A1"], later)["A1"].most_allowed == 20.0
    assert kept_draws(filled_store, "jump_height", "A1")["A1"].limits.most_allowed == 12.0


def test_nobody_who_is_out_gets_a_length_or_a_plan(filled_store: Store) -> None:
    set_status(filled_store, "A2", "out", date.today(), "", "carl")
    row = responses(filled_store, "jump_height", "A2").iloc[0]
    assert np.isnan([row["length"], row["lost_pct"]]).all() and row["best_volume"] > 0
    assert words.headline(row.to_dict(), 15).startswith("No length at the moment")
    plan = PlanEntry(date.today(), "A2", "jump_height", "best", 1, None, 15.0, 4.0, "why")
    with pytest.raises(BadInput, match="is out: no test and no length"):
        check_choice(filled_store, plan)


def test_the_command_says_what_staff_have_said_and_who_rests_after_a_test(
    filled_store: Store,
) -> None:
    asked = ("advise", "--db", filled_store.path, "--measure", "jump_height", "--athlete", "A1")
    before = run(*asked).stdout
    assert "modified" not in before and "Tested lately" not in before
    set_status(filled_store, "A1", "modified", date.today(), "no sprints", "carl")
    at = datetime.combine(date.today(), datetime.min.time())
    efforts = tuple(EffortEntry(number, 40.0, number - 1.0) for number in (1, 2, 3))
    add_session(filled_store, SessionEntry("A1", "jump_height", at, efforts, kind="fade"), "carl")
    told = run(*asked).stdout
    assert "Long One is modified since" in told and "no sprints" in told
    assert "Tested lately, so no maximal efforts of this kind: Long One" in told


def test_nothing_beyond_the_most_is_offered_and_cautions_are_given(filled_store: Store) -> None:
    born = date.today().replace(year=date.today().year - 16, day=1).isoformat()
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A1"], "born": [born]}), "test")
    asked = ("advise", "--db", filled_store.path, "--measure", "jump_height", "--athlete", "A1")
    told = run(*asked, "--ambient", "33").stdout
    assert "capped at 15, the most allowed" in told and "a quarter more" not in told
    assert "still getting better at the standard. 40 would be better" in told
    assert "33 °C: follow your organisation's heat rules" in told and "Fill up" not in told
    assert "Fill up with easy, submaximal efforts." in run(*asked, "--ambient", "20").stdout
    assert "Under 18: Long One. An adult in charge must be there" in told
    assert "Injury prevention first, at least 5 min" in told
    grown = run(*asked[:-1], "A2", "--ambient", "5").stdout
    assert "5 °C: give the general part some minutes more, and keep warm" in grown
    assert "Never cold: the general part ends with about 3 easier efforts" in grown
    cold = run(*asked, "--general", "0")
    assert (
        cold.exit_code == 2
        and "--general takes a number from 3 to 240" in cold.stderr
        and "a quarter more" in grown
    )
    assert "Under 18" not in grown and "in effect" not in grown
