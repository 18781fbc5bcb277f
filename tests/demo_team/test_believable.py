"""The demo squad is one that a handball club would recognise, and does nothing the tool forbids."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest

from demo_team.build import FOLDER
from demo_team.club import ACCOUNTS, MEASURES, TRUE_ACCOUNT, WORTHWHILE_PCT
from demo_team.days import COMING_GAME, GAME_DAYS, PLANS_SINCE, TRAINING_DAYS
from demo_team.fade_ends import AT_THE_MOST, ATHLETE_STOPPED, TESTER_ENDED
from demo_team.plans import own_length
from demo_team.planted import PLANTED
from modeling.curve.account import Circumstances
from modeling.day.caution import (
    WeekRule,
    most_efforts,
    most_in_test,
    reasons_against_testing,
    rest_after_test_days,
)
from modeling.testing.fade import SHARE_OF, fade_is_over
from modeling.testing.simulation import volumes_in_effect
from modeling.trial.paired_trial import draw_order, trial_result

LAST_FEW = 5
both_measures = pytest.mark.parametrize("measure", MEASURES)


def table(name: str) -> pd.DataFrame:
    return pd.read_csv(FOLDER / f"{name}.csv", dtype=str, keep_default_na=False)


@cache
def efforts(measure: str) -> pd.DataFrame:
    """A measure's efforts as they were meant, without the slips made in writing them down."""
    rows, mistakes = table(measure), table("mistakes")
    own = mistakes[mistakes["file"] == f"{measure}.csv"]
    for line, column, meant in zip(own["line"], own["column"], own["meant"], strict=True):
        rows.at[int(line) - 2, column] = meant
    twice = ["athlete", "started_at", "effort"]
    return rows.drop_duplicates(twice).assign(
        at=pd.to_datetime(rows["started_at"]),
        value=rows["value"].astype(float),
        before=pd.to_numeric(rows["volume_before"]).fillna(rows["effort"].astype(float) - 1),
    )


def all_sessions() -> pd.DataFrame:
    rows = pd.concat([efforts(measure) for measure in MEASURES], ignore_index=True)
    return rows.drop_duplicates(["athlete", "measure", "started_at"])


def fade_tests(measure: str) -> list[pd.DataFrame]:
    rows = efforts(measure).query("kind == 'fade'")
    return [own for _, own in rows.groupby(["athlete", "started_at"])]


def fall_pct(test: pd.DataFrame) -> float:
    """How far the mean of the last few efforts is below that of the best few in a row, in %."""
    means = test["value"].rolling(LAST_FEW).mean()
    return float(100.0 * (1.0 - means.iloc[-1] / means.max()))


# The week


def test_a_week_has_three_or_four_training_days_and_somebody_is_measured_on_each() -> None:
    training = all_sessions().query("context == 'training'")
    tests = all_sessions().query("context == 'test'")
    days = pd.concat([training, tests])["at"].dt.normalize().drop_duplicates()
    assert days.groupby(days.dt.to_period("W")).size().between(3, 4).all()
    assert set(training["at"].dt.date) == set(TRAINING_DAYS)
    assert {day.weekday() for day in TRAINING_DAYS} == {0, 1, 2, 3}


def test_sixteen_of_the_squad_play_each_game_on_a_saturday() -> None:
    games = all_sessions().query("context == 'game'")
    players = games.groupby(games["at"].dt.date)["athlete"].nunique()
    assert list(players.index) == GAME_DAYS
    assert (players == 16).all()
    assert all(day.weekday() == 5 for day in [*GAME_DAYS, COMING_GAME])
    squads = table("games")
    assert squads["day"].unique().tolist() == [
        day.isoformat() for day in [*GAME_DAYS, COMING_GAME] if day >= PLANS_SINCE
    ]
    for day, squad in squads.groupby("day"):
        assert len(squad) == 16 and (squad["role"] == "starts").sum() == 7
        assert {"H01", "H02"} <= set(squad["athlete"])
        here = games.loc[games["at"].dt.date == date.fromisoformat(str(day)), "athlete"]
        assert here.empty or set(here) == set(squad["athlete"])
    assert COMING_GAME - max(GAME_DAYS) == timedelta(days=7)
    coming = squads[(squads["day"] == COMING_GAME.isoformat()) & (squads["role"] == "starts")]
    with_account = {account.athlete for account in ACCOUNTS if account.athlete}
    assert with_account <= set(coming["athlete"]), "whoever signs in sees how to warm up for it"


# Tests


@both_measures
def test_tests_end_in_different_ways_and_each_as_its_note_says(measure: str) -> None:
    kind = MEASURES[measure].effort
    share = SHARE_OF.get(kind, 0.9)
    ways = []
    for test in fade_tests(measure):
        values = test["value"].tolist()
        [note] = test["note"].unique()
        by_rule = fade_is_over(values, share=share)
        assert not any(fade_is_over(values[:done], share=share) for done in range(len(values)))
        assert by_rule == (note not in (TESTER_ENDED, ATHLETE_STOPPED, AT_THE_MOST))
        assert (note == AT_THE_MOST) <= (len(values) == most_in_test(kind))
        ways.append("stop rule" if by_rule else note)
    shares = pd.Series(ways).value_counts(normalize=True)
    assert {"stop rule", TESTER_ENDED, ATHLETE_STOPPED} <= set(shares.index)
    assert shares["stop rule"] <= 0.85
    assert shares[TESTER_ENDED] >= 0.1


def test_throws_hardly_fade_in_most_tests_and_jumps_do() -> None:
    throws = np.array([fall_pct(test) for test in fade_tests("throw_speed")])
    jumps = np.array([fall_pct(test) for test in fade_tests("jump_height")])
    assert np.mean(throws < 4.0) > 0.6
    assert np.median(jumps) > 2 * np.median(throws)


def test_tests_are_on_days_that_the_tool_allows() -> None:
    rows = all_sessions()
    games = [at.to_pydatetime() for at in rows.loc[rows["context"] == "game", "at"].unique()]
    tests = rows[rows["kind"] == "fade"]
    for _, own in tests.groupby("athlete"):
        days = [at.date() for at in own["at"]]
        assert len(days) == len(set(days))
        for at in own["at"]:
            others = [day for day in days if day != at.date()]
            assert reasons_against_testing(at.to_pydatetime(), games, others, WeekRule()) == ()


@both_measures
def test_after_a_test_there_are_no_maximal_efforts_of_its_kind_for_some_days(measure: str) -> None:
    rest = rest_after_test_days(MEASURES[measure].effort)
    rows = efforts(measure).drop_duplicates(["athlete", "started_at"])
    for _, own in rows.groupby("athlete"):
        days = own["at"].dt.normalize()
        for test in days[own["kind"] == "fade"]:
            assert ((days >= test) & (days <= test + timedelta(days=rest))).sum() == 1


@both_measures
def test_nobody_does_more_than_is_allowed_in_a_test_or_on_a_day(measure: str) -> None:
    kind = MEASURES[measure].effort
    rows = efforts(measure)
    done = rows.groupby(["athlete", "at", "kind"])["before"].max().add(1).reset_index()
    fade = done["kind"] == "fade"
    assert done.loc[fade, "before"].max() <= most_in_test(kind)
    assert done.loc[~fade, "before"].max() <= most_efforts(kind)
    assert (rows["general_minutes"].astype(float) >= 5).all(), "nobody begins cold"
    plans = table("plans").query("measure == @measure")
    lengths = plans[["advised_volume", "chosen_volume", "done_volume"]].astype(float)
    assert lengths.to_numpy().max() <= most_efforts(kind)


def test_nobody_is_measured_or_plays_while_out_with_pain() -> None:
    rows, statuses = all_sessions(), table("statuses")
    assert set(rows["pain"]) == {"no"}
    assert statuses["reason"].ne("").equals(statuses["status"] == "out")
    spells = 0
    for athlete, said in statuses.groupby("athlete"):
        assert said["status"].tolist() == ["out", "fit"] * (len(said) // 2)
        days = rows.loc[rows["athlete"] == athlete, "at"].dt.strftime("%Y-%m-%d")
        for first, fit_again in said["since"].to_numpy().reshape(-1, 2):
            assert not ((days >= first) & (days < fit_again)).any(), athlete
            spells += 1
    assert 5 <= spells <= 15
    assert statuses["since"].max() <= max(GAME_DAYS).isoformat(), "all are well for the next game"


# What was planted


@both_measures
def test_gains_are_as_large_as_published_ones(measure: str) -> None:
    gains = table("truth").query("measure == @measure and gain_pct != ''")["gain_pct"]
    assert gains.astype(float).between(4.0, 9.0).all()


def test_most_peak_early_and_two_are_far_from_all_others() -> None:
    best = {code: plan.best_volume for code, plan in PLANTED["jump_height"].items()}
    typical = [code for code, volume in best.items() if 5 <= volume <= 36]
    assert set(best) - set(typical) == {"H07", "H22"}
    assert best["H22"] > 1.8 * max(best[code] for code in typical)
    assert best["H07"] < min(best[code] for code in typical)
    assert 8 <= np.median(list(best.values())) <= 15
    assert 30 <= best["H12"] <= 36, "the one whose account is a sample: late, and no outlier"


# Plans and the trial


@both_measures
def test_the_advised_volume_is_what_the_true_curve_asks_for(measure: str) -> None:
    plans, standard = table("plans").query("measure == @measure"), MEASURES[measure].standard_volume
    for row in plans.to_dict("records"):
        plan = PLANTED[measure][row["athlete"]]
        assert float(row["advised_volume"]) == own_length(measure, plan)
    apart = plans["advised_volume"].astype(float) != standard
    assert 0.05 <= apart.mean() <= 0.75
    followed = plans["done_volume"] == plans["chosen_volume"]
    assert 0.5 <= followed.mean() <= 0.8
    assert (plans["reason"] != "").equals(plans["advised_volume"] != plans["chosen_volume"])


def truly_lost(measure: str) -> pd.DataFrame:
    """The plans, with what the length that was done truly lost that day, in %."""
    first = efforts(measure).query("kind == 'routine' and effort == '1'")
    first = first.assign(day=first["at"].dt.strftime("%Y-%m-%d"))
    facts = ["general_minutes", "rest_minutes", "ambient_c"]
    rows = table("plans").query("measure == @measure")
    rows = rows.merge(first[["athlete", "day", "at", *facts]], on=["athlete", "day"])
    lost = []
    for row in rows.to_dict("records"):
        around = Circumstances(*(float(row[fact]) for fact in facts), row["at"].hour)
        done = volumes_in_effect(TRUE_ACCOUNT, around)(np.array([float(row["done_volume"])]))
        lost.append(PLANTED[measure][row["athlete"]].truth().loss_pct(float(done[0])))
    return rows.assign(lost=lost, followed=rows["done_volume"] == rows["chosen_volume"])


@both_measures
def test_athletes_who_followed_a_plan_truly_lost_less(measure: str) -> None:
    rows = truly_lost(measure)
    means = rows.groupby("followed")["lost"].mean()
    assert means[False] - means[True] > 0.5 * WORTHWHILE_PCT[measure]
    assert means[True] < WORTHWHILE_PCT[measure]


def test_the_trial_is_finished_as_drawn_and_finds_what_was_planted() -> None:
    trial = table("trial")
    second = trial["is_second"] == "yes"
    order = draw_order(len(trial) // 2, int(trial["seed"][0]))
    assert second.tolist() == order.astype(bool).tolist()
    lengths = np.where(second, trial["second_volume"], trial["first_volume"])
    assert (trial["done_volume"] == lengths).all()
    rows = efforts(trial["measure"][0]).query("effort == '1' and context == 'training'")
    rows = rows[rows["athlete"] == trial["athlete"][0]]
    by_day = rows.set_index(rows["at"].dt.strftime("%Y-%m-%d"))["value"]
    outcomes = trial["outcome"].astype(float)
    assert by_day[trial["day"]].tolist() == outcomes.tolist()
    assert [datetime.fromisoformat(day).weekday() for day in trial["day"]] == [1, 3] * 6
    found = trial_result(outcomes[~second], outcomes[second])
    assert found is not None
    plan = PLANTED["jump_height"][trial["athlete"][0]].truth()
    usual = Circumstances(10.0, 2.0, 14.0, 17.5)
    counted = volumes_in_effect(TRUE_ACCOUNT, usual)
    lost = [plan.loss_pct(float(counted(np.array([each]))[0])) for each in (15.0, 7.0)]
    assert found.difference_pct.low <= lost[0] - lost[1] <= found.difference_pct.high
    assert found.chance_second > 0.95
