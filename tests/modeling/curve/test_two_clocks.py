"""Warmth leaves slowly, fatigue within minutes: properties of what a wait does to a curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.length import Day, Needs, length
from modeling.curve.two_clocks import CLOCKS, HALF_LIVES, RECOVERY
from modeling.day.bench_time import bench_times
from modeling.day.goal_advice import ToFollow
from modeling.game.squad_losses import squad_losses

USUAL = Circumstances(general_minutes=8.0, rest_minutes=5.0)
KNOTS = np.linspace(0.0, 120.0, 241)
volumes = st.floats(0.0, 60.0)
waits = st.floats(0.0, 120.0)
quick = settings(max_examples=40, deadline=None)


def athlete(best: float = 10.0, draws: int = 2 * CLOCKS) -> CurveDraws:
    """Return curves that rise by 6 % up to a best volume, then fall by 1 % an effort."""
    bests = best + np.linspace(-1.0, 1.0, draws)
    apart = KNOTS[:, None] - bests
    change = np.where(apart < 0, -0.06 * (apart / bests) ** 2, -0.01 * apart)
    account = Account(0.3, 21.0, 0.01, 0.02)
    needs = Needs(15.0, "short", best, (5.0, 12.0))
    return CurveDraws("A1", 3, 30, KNOTS, change, account, USUAL, needs, 1.0)


def mean_change(curve: CurveDraws, volume: float, rest: float) -> float:
    around = replace(USUAL, rest_minutes=rest)
    return float(curve.after(curve.in_effect(volume, around)).mean())


@quick
@given(volume=volumes, rest=st.floats(0.0, USUAL.rest_minutes))
def test_up_to_the_usual_rest_a_curve_is_as_it_was_fitted(volume: float, rest: float) -> None:
    curve, around = athlete(), replace(USUAL, rest_minutes=rest)
    one_volume = curve.account.volume_in_effect(np.array(volume), around)
    found = curve.after(curve.in_effect(volume, around))
    assert found == pytest.approx(curve.at(one_volume))


@quick
@given(volume=volumes, rest=st.floats(5.0, 60.0))
def test_the_parts_join_without_a_step(volume: float, rest: float) -> None:
    curve = athlete()
    warm, tired = curve.clocks.after(curve.in_effect(volume, USUAL))
    usual = curve.account.volume_in_effect(np.array(volume), USUAL)
    assert warm + tired == pytest.approx(np.full(2 * CLOCKS, usual))
    steps = [mean_change(curve, volume, each) for each in (rest, rest + 1e-6)]
    assert steps[0] == pytest.approx(steps[1], abs=1e-5)


@quick
@given(volume=volumes, rest=waits, more=waits)
def test_warmth_only_leaves_and_a_wait_never_tires(volume: float, rest: float, more: float) -> None:
    clocks = athlete().clocks
    now, later = (
        clocks.after(athlete().in_effect(volume, replace(USUAL, rest_minutes=each)))
        for each in (rest, rest + more)
    )
    for before, after in zip(now, later, strict=True):
        assert np.all(after <= before + 1e-9)


@quick
@given(volume=st.floats(0.0, 7.0), rest=st.floats(5.0, 120.0))
def test_below_the_peak_a_wait_only_cools(volume: float, rest: float) -> None:
    curve, around = athlete(), replace(USUAL, rest_minutes=rest)
    one_volume = curve.account.volume_in_effect(np.array(volume), around)
    assert one_volume < curve.peaks().min()
    assert curve.after(curve.in_effect(volume, around)) == pytest.approx(curve.at(one_volume))


def test_past_the_peak_a_few_minutes_help_and_many_harm() -> None:
    curve = athlete()
    at_once, some, many = (mean_change(curve, 17.0, rest) for rest in (5.0, 9.0, 90.0))
    assert some > at_once + 0.03 and many < some - 0.02
    one_clock = curve.account.volume_in_effect(np.array(17.0), replace(USUAL, rest_minutes=9.0))
    assert some > curve.at(one_clock).mean() + 0.01


@quick
@given(volume=st.floats(12.0, 60.0), rest=st.floats(8.0, 120.0))
def test_doing_more_beforehand_keeps_nobody_warm(volume: float, rest: float) -> None:
    curve = athlete()
    assert mean_change(curve, volume, rest) <= mean_change(curve, 12.0, rest) + 1e-9


def test_a_long_wait_costs_even_an_athlete_who_did_too_much() -> None:
    """After sitting for 15 minutes nobody is at their best any more (Koutsouridis et al.)."""
    curve = athlete()
    cost = bench_times(curve, 25.0, minutes=(15.0 + USUAL.rest_minutes,))[0].cost_pct
    assert cost.median > 0.5 and cost.low > 0.1


@quick
@given(volume=volumes)
def test_a_very_long_wait_loses_the_whole_gain(volume: float) -> None:
    curve = athlete()
    assert mean_change(curve, volume, 1000.0) == pytest.approx(float(curve.change[0].mean()))


def test_each_curve_loses_half_its_fatigue_in_its_half_life() -> None:
    curve = athlete()
    _, usual = curve.clocks.after(curve.in_effect(30.0, USUAL))
    for place, half_life in enumerate(curve.clocks.recovery):
        rest = USUAL.rest_minutes + half_life
        _, tired = curve.clocks.after(curve.in_effect(30.0, replace(USUAL, rest_minutes=rest)))
        assert tired[place] == pytest.approx(usual[place] / 2.0)
    assert np.median(HALF_LIVES) == pytest.approx(RECOVERY.default)
    assert RECOVERY.low < HALF_LIVES.min() < HALF_LIVES.max() < RECOVERY.high


@quick
@given(rest=waits, advised=st.floats(3.0, 12.0))
def test_a_wait_never_makes_the_length_before_it_longer(rest: float, advised: float) -> None:
    needs = Needs(15.0, "short", advised, (3.0, 12.0))
    day = Day(Account(), USUAL, replace(USUAL, rest_minutes=rest))
    assert length(needs, day=day).volume <= length(needs).volume


def test_work_with_recovery_is_followed_effort_by_effort() -> None:
    """By hand: before each effort both parts fade by their clocks, then one is added."""
    curve = replace(athlete(), effort_rest_seconds=15.0)
    work = ToFollow("sustained", 6, recovery_seconds=75.0)
    state, step = curve.in_effect(np.array([12.0]), USUAL), curve.account.stretch(USUAL)
    found = curve.mean_over(state, work, step)[0]
    for place, peak in enumerate(curve.peaks()):
        total = float(curve.account.volume_in_effect(np.array([12.0]), USUAL)[0])
        warm, tired, changes = min(total, peak), max(total - peak, 0.0), []
        for _ in range(work.efforts):
            change = curve.at(warm)[place] + curve.at(peak + tired)[place]
            changes.append(100 * np.expm1(change - curve.change[:, place].max()))
            total = warm + step
            warm, tired = min(total, peak), tired + max(total - peak, 0.0)
            warm *= 2 ** (-1.0 / 21.0)
            tired *= 2 ** (-1.0 / HALF_LIVES[place % CLOCKS])
        assert found[place] == pytest.approx(np.mean(changes))
    losses = squad_losses([curve], work, USUAL, [8.0])
    assert losses.drawn([[12.0]], USUAL.rest_minutes)[0] == pytest.approx(-found)
    # With the recovery of a test, or none given, efforts follow one another as in a test.
    alike = replace(work, recovery_seconds=15.0)
    assert curve.mean_over(state, alike, step) == pytest.approx(
        curve.mean_over(state, replace(work, recovery_seconds=0.0), step)
    )


def test_long_work_with_recovery_is_well_read_at_a_few_efforts() -> None:
    curve = athlete()
    long = ToFollow("sustained", 480, recovery_seconds=30.0)
    state = curve.in_effect(np.array([12.0]), USUAL)
    every = [curve.with_both(*each) for each in curve.clocks.before_each(state, 480, 1.0, 0.5)]
    whole = 100 * np.expm1(every).mean(axis=0)
    assert curve.mean_over(state, long, 1.0) == pytest.approx(whole, abs=0.3)
