"""Warmth leaves slowly, fatigue within minutes: properties of what a wait does to a curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from modeling.account import Account, Circumstances
from modeling.curve_draws import CurveDraws
from modeling.goal_advice import ToFollow
from modeling.length import Day, Needs, length
from modeling.squad_losses import squad_losses
from modeling.two_clocks import CLOCKS, HALF_LIVES, RECOVERY

USUAL = Circumstances(general_minutes=8.0, rest_minutes=5.0)
KNOTS = np.linspace(0.0, 120.0, 241)
volumes = st.floats(0.0, 60.0)
waits = st.floats(0.0, 120.0)
quick = settings(max_examples=40, deadline=None)


def athlete(best: float = 10.0, draws: int = 2 * CLOCKS) -> CurveDraws:
    """Curves that rise by 6 % and fall by 1 % an effort, about a best volume."""
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
def test_the_two_parts_join_without_a_step(volume: float, rest: float) -> None:
    curve = athlete()
    apart = replace(curve.in_effect(volume, USUAL), parted=True)
    assert curve.after(apart) == pytest.approx(curve.after(curve.in_effect(volume, USUAL)))
    steps = [mean_change(curve, volume, each) for each in (rest, rest + 1e-6)]
    assert steps[0] == pytest.approx(steps[1], abs=1e-5)


@quick
@given(volume=volumes, rest=waits, more=waits)
def test_warmth_only_leaves_and_recovery_never_tires(
    volume: float, rest: float, more: float
) -> None:
    curve = athlete()
    now, later = (
        curve.in_effect(volume, replace(USUAL, rest_minutes=each)) for each in (rest, rest + more)
    )
    assert later.warm <= now.warm + 1e-9
    assert np.all(later.tired <= now.tired + 1e-9)


def test_who_is_past_the_peak_gains_by_some_minutes_and_loses_by_many() -> None:
    curve = athlete()
    at_once, some, many = (mean_change(curve, 25.0, rest) for rest in (5.0, 12.0, 90.0))
    assert some > at_once + 0.05 and many < some - 0.02
    one_clock = curve.account.volume_in_effect(np.array(25.0), replace(USUAL, rest_minutes=12.0))
    assert some > curve.at(one_clock).mean() + 0.04


@quick
@given(volume=volumes)
def test_a_very_long_wait_loses_all(volume: float) -> None:
    curve = athlete()
    assert mean_change(curve, volume, 1000.0) == pytest.approx(float(curve.change[0].mean()))


def test_half_of_the_fatigue_is_gone_after_a_half_life_of_each_curve() -> None:
    curve = athlete()
    usual = curve.in_effect(30.0, USUAL)
    rests = USUAL.rest_minutes + HALF_LIVES
    halved = [curve.in_effect(30.0, replace(USUAL, rest_minutes=each)).tired for each in rests]
    assert np.diag(np.array(halved)) == pytest.approx(usual.tired / 2.0)
    assert np.median(HALF_LIVES) == pytest.approx(RECOVERY.default)
    assert RECOVERY.low < HALF_LIVES.min() < HALF_LIVES.max() < RECOVERY.high


@quick
@given(rest=waits, advised=st.floats(3.0, 12.0))
def test_a_wait_still_changes_no_length_before_it(rest: float, advised: float) -> None:
    needs = Needs(15.0, "short", advised, (3.0, 12.0))
    day = Day(Account(), USUAL, replace(USUAL, rest_minutes=rest))
    assert length(needs, day=day).volume <= length(needs).volume


def test_work_with_recovery_is_followed_effort_by_effort() -> None:
    """By hand: before each effort what was done fades by both clocks, then one is added."""
    curve = replace(athlete(), effort_rest_seconds=15.0)
    work = ToFollow("sustained", 6, recovery_seconds=75.0)
    state, step = curve.in_effect(np.array([12.0]), USUAL), curve.account.stretch(USUAL)
    warm, tired = float(state.warm[0]), state.tired[0].copy()
    changes = []
    for _ in range(work.efforts):
        rise = np.minimum(warm, curve.peaks())
        clocked = np.maximum(np.tile(tired, 2), curve.peaks())
        own = np.arange(2 * CLOCKS)
        changes.append(curve.at(rise)[own, own] + curve.at(clocked)[own, own])
        warm = (warm + step) * 2 ** (-1.0 / 21.0)
        tired = (tired + step) * 2 ** (-1.0 / HALF_LIVES)
    expected = 100 * np.expm1(np.array(changes)).mean(axis=0)
    top = 100 * np.expm1(curve.change.max(axis=0))
    assert curve.mean_over(state, work, step)[0] == pytest.approx(expected - top, abs=0.02)
    losses = squad_losses([curve], work, USUAL, [8.0])
    found = losses.drawn([[12.0]], USUAL.rest_minutes)[0]
    assert found == pytest.approx(-curve.mean_over(state, work, step)[0])


def test_long_work_with_recovery_is_read_at_few_places() -> None:
    curve = athlete()
    long = ToFollow("sustained", 480, recovery_seconds=30.0)
    state = curve.in_effect(np.array([12.0]), USUAL)
    every = state.and_efforts(np.arange(480), 1.0, 0.5, curve.account.half_life_minutes)
    whole = 100 * np.expm1(curve.after(every)).mean(axis=-2)
    assert curve.mean_over(state, long, 1.0) == pytest.approx(whole, abs=0.3)
