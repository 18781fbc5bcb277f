from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from modeling.day.season_outlook import Foreseen, SeasonPlan, drawn, season_outlook
from modeling.testing.simulation import Noise, Protocol
from modeling.testing.true_curves import Spread


def test_a_share_is_over_everybody_and_its_range_over_squads() -> None:
    squads = [np.array([1.0, 1.0, 0.0]), np.array([]), np.array([0.0])]
    found = Foreseen.of(squads, np.mean)
    assert found.value == pytest.approx(0.5) and found.count == 4
    assert (found.low, found.high) == pytest.approx(tuple(np.quantile([0.0, 2 / 3], [0.05, 0.95])))


def test_nothing_to_count_is_not_zero() -> None:
    assert Foreseen.of([np.array([])], np.median) == Foreseen(None, None, None, 0)


def test_more_tests_tell_more_and_the_same_seed_gives_the_same() -> None:
    told: list[float] = []
    protocol = Protocol(fade_tests=0, routine_sessions=1)
    little = SeasonPlan(6, protocol, Noise(0.04, 0.03), tidy=True)
    much = replace(little, protocol=Protocol(fade_tests=3, routine_sessions=3))
    few = season_outlook(little, squads=5)
    many = season_outlook(much, squads=5, progress=told.append)
    assert told == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])
    assert season_outlook(little, squads=5) == few
    assert few.squads == 5 and few.firm_pct.count == few.lost_pct.count == 30
    assert few.width.count == 24, "where volume has no effect there is no best volume"
    assert many.right_pct.count == round(many.firm_pct.value / 100.0 * 30)
    assert many.firm_pct.value > few.firm_pct.value
    assert many.width.value < few.width.value
    assert many.lost_pct.value < few.lost_pct.value


def test_realistic_squads_have_several_shapes_and_tell_less() -> None:
    plan = SeasonPlan(8, Protocol(fade_tests=1, routine_sessions=4))
    (truths, efforts), (again, _) = (drawn(plan, 0, np.random.default_rng(7)) for _ in range(2))
    assert len({athlete.shape for athlete in truths}) == 4
    assert [a.best_volume for a in truths] == [a.best_volume for a in again]
    assert efforts["athlete"].nunique() == 8
    one_shape, _ = drawn(replace(plan, tidy=True), 0, np.random.default_rng(7))
    assert len({athlete.shape for athlete in one_shape}) == 1
    rough, tidy = (season_outlook(replace(plan, tidy=tidy), squads=5) for tidy in (False, True))
    assert rough.lost_pct.value > tidy.lost_pct.value


@pytest.mark.parametrize("tidy", [False, True])
def test_athletes_are_spread_as_said(tidy: bool) -> None:
    spread = Spread(best=40.0, best_log_sd=0.3, gain=0.03)
    plan = SeasonPlan(400, Protocol(0, 1), spread=spread, tidy=tidy)
    truths, _ = drawn(plan, 0, np.random.default_rng(1))
    logs = np.log([athlete.best_volume for athlete in truths])
    assert np.exp(np.median(logs)) == pytest.approx(40.0, rel=0.06)
    assert np.std(logs) == pytest.approx(0.3, rel=0.1)
    assert np.median([athlete.gain for athlete in truths]) == pytest.approx(0.03, rel=0.15)


def test_own_lengths_lose_less_than_the_standard_where_much_is_known() -> None:
    plan = SeasonPlan(6, Protocol(fade_tests=3, routine_sessions=4), Noise(0.01, 0.005))
    found = season_outlook(plan, squads=5)
    assert found.length_pct.value < found.standard_pct.value
    assert found.length_pct.count == found.standard_pct.count == 30
