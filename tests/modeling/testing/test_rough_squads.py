"""Rough squads: each roughness asked for is there, in its size, and no other is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from modeling.testing.rough_squads import FALLING_ON, MIXED, MovingBest, RoughNoise, RoughSquad
from modeling.testing.rough_squads import rough_squad as drawn
from modeling.testing.simulation import Protocol, truth

SMALL = RoughSquad(athletes=12, protocol=Protocol(fade_tests=1, routine_sessions=3))


def both(**changes: object) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Draw the small squad twice from the same seed: as it is, and changed."""
    squads = SMALL, replace(SMALL, **changes)
    plain, changed = (drawn(squad, np.random.default_rng(5))[1] for squad in squads)
    return plain, changed


def test_shapes_are_shared_out_evenly_and_a_third_can_be_set_apart() -> None:
    truths, _ = drawn(SMALL, np.random.default_rng(1))
    assert sorted(t.shape for t in truths) == sorted([*MIXED] * 3)
    truths, _ = drawn(replace(SMALL, third="no effect"), np.random.default_rng(1))
    assert sum(t.gain == 0 for t in truths) == sum(t.shape == "no effect" for t in truths) == 4


def test_codes_keep_the_order_of_the_truths_however_many_there_are() -> None:
    squad = replace(SMALL, athletes=101, protocol=Protocol(0, 1), effort=0.0, day=0.0)
    truths, efforts = drawn(squad, np.random.default_rng(1))
    volume, value = (efforts.groupby("athlete")[name].first() for name in ("volume", "value"))
    expected = [
        t.level * np.exp(t.change(np.array([v]))[0]) for t, v in zip(truths, volume, strict=True)
    ]
    np.testing.assert_allclose(value, expected)


@pytest.mark.parametrize("shape", FALLING_ON)
def test_a_fall_that_goes_on_never_gets_slower(shape: str) -> None:
    curve = truth(shape, 10.0, 0.07, 20.0, shapes=FALLING_ON)
    at = np.array([0.0, 10.0, 10.0 + curve.hold_volume])
    np.testing.assert_allclose(curve.change(at), [-curve.gain, 0.0, np.log(0.9)], atol=1e-9)
    falls = np.diff(curve.change(np.arange(14.0, 120.0)))
    assert (np.diff(falls) <= 1e-12).all() and falls[0] < 0


def test_noise_lasts_as_asked_and_keeps_its_size() -> None:
    noise = RoughNoise(effort=0.03, lasting=0.5).of_efforts(50_000, np.random.default_rng(2))
    assert noise.std() == pytest.approx(0.03, rel=0.02)
    assert np.corrcoef(noise[1:], noise[:-1])[0, 1] == pytest.approx(0.5, abs=0.02)


def test_efforts_that_fail_downwards_never_exceed_the_curve() -> None:
    noise = RoughNoise(effort=0.03, downwards=True).of_efforts(50_000, np.random.default_rng(2))
    assert noise.max() <= 0
    assert noise.mean() == pytest.approx(-0.03, rel=0.02)  # an exponential's mean is its scale
    assert noise.std() == pytest.approx(0.03, rel=0.02)


def test_a_random_walk_ends_as_far_off_as_asked() -> None:
    rng = np.random.default_rng(3)
    ends = [RoughNoise(effort=0.0, wander=0.02).of_efforts(50, rng)[-1] for _ in range(2000)]
    assert np.std(ends) == pytest.approx(0.02, rel=0.05)


def test_best_volumes_move_about_their_median() -> None:
    rng, counts_for = np.random.default_rng(4), []
    for _ in range(4000):
        _, in_effect = MovingBest(0.25).of_session(rng)
        counts_for.append(float(in_effect(np.array([10.0]))[0]))
    logs = np.log(counts_for)
    assert logs.mean() == pytest.approx(np.log(10.0), abs=0.02)
    assert logs.std() == pytest.approx(0.25, rel=0.05)


def test_learning_halves_what_is_left_with_every_session() -> None:
    plain, learning = both(learning=0.08)
    share = (learning["value"] / plain["value"]).groupby(plain["day"]).agg(["min", "max"])
    np.testing.assert_allclose(share["min"], share["max"])
    np.testing.assert_allclose(share["min"], 1.0 - 0.08 / np.array([1.0, 2.0, 4.0, 8.0]))


def test_values_are_rounded_to_their_unit() -> None:
    plain, read = both(read_to=0.5)
    assert (read["value"] % 0.5 == 0).all()
    assert (read["value"] - plain["value"]).abs().max() <= 0.25


def test_a_test_stopped_early_is_the_beginning_of_the_whole_one() -> None:
    plain, stopped = both(stopped_early=True)
    whole, beginning = plain.groupby("session")["value"], stopped.groupby("session")["value"]
    shorter = 0
    for session, values in beginning:
        full = whole.get_group(session).to_numpy()
        np.testing.assert_array_equal(values, full[: len(values)])
        shorter += len(values) < len(full)
    assert shorter == plain.loc[plain["kind"] == "fade", "session"].nunique()
    routine = [each[each["kind"] == "routine"].reset_index(drop=True) for each in (plain, stopped)]
    assert routine[0].equals(routine[1])


def test_habits_at_the_peak_follow_the_peak() -> None:
    protocol = Protocol(0, 6, own_habit=True, habit_at_peak=True)
    truths, efforts = drawn(replace(SMALL, protocol=protocol), np.random.default_rng(6))
    habit = np.log1p(efforts.groupby("athlete")["volume"].mean())
    assert np.corrcoef(habit, np.log([t.best_volume for t in truths]))[0, 1] > 0.6
