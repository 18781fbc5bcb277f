from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from modeling.day.season_outlook import Foreseen, SeasonPlan, season_outlook
from modeling.testing.simulation import Noise, Protocol


def test_a_share_is_of_everybody_and_its_range_of_squads() -> None:
    squads = [np.array([1.0, 1.0, 0.0]), np.array([]), np.array([0.0])]
    found = Foreseen.of(squads, np.mean)
    assert found.value == pytest.approx(0.5) and found.count == 4
    assert (found.low, found.high) == pytest.approx(tuple(np.quantile([0.0, 2 / 3], [0.05, 0.95])))


def test_nothing_to_count_is_told_apart_from_nothing() -> None:
    assert Foreseen.of([np.array([])], np.median) == Foreseen(None, None, None, 0)


def test_more_tests_tell_more_and_the_same_seed_the_same() -> None:
    told: list[float] = []
    little = SeasonPlan(6, Protocol(fade_tests=0, routine_sessions=1), Noise(0.04, 0.03))
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
