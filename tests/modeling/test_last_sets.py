"""What a warm-up leaves for the last sets, where the curve is known."""

from __future__ import annotations

import numpy as np
import pytest

from modeling.errors import ModelError
from modeling.last_sets import last_sets
from tests.modeling.test_goal_advice import BEST, STEEPNESS, known


def test_a_warm_up_to_the_peak_costs_the_last_sets_what_the_parabola_says() -> None:
    """With 9 sets the mean is best from 4 before the peak: the last set is then 4 past it."""
    found = last_sets(known(), BEST + 10, 9)
    assert found.advised == BEST - 4
    shorter, longer = np.expm1(-STEEPNESS * np.array([4.0, 18.0]) ** 2)
    assert found.cost_pct.median == pytest.approx(100 * (shorter - longer))
    assert found.cost_pct.low == found.cost_pct.high == pytest.approx(found.cost_pct.median)
    assert (found.chance_costly, found.costly) == (1.0, True)
    assert (found.sessions, found.efforts) == (3, 30)


def test_a_warm_up_as_short_as_advised_costs_nothing() -> None:
    found = last_sets(known(), 3.0, 9)
    assert (found.cost_pct.median, found.costly) == (0.0, False)


def test_what_nobody_knows_is_said_so() -> None:
    two = known(lambda volume: np.minimum(0.0, -0.002 * (volume - 1.0)))
    flat = known(np.zeros_like)
    mixed = np.concatenate([two.change[:, :3], flat.change[:, :2]], axis=1)
    found = last_sets(type(two)(**{**vars(two), "change": mixed}), 30.0, 4)
    assert found.chance_costly == pytest.approx(0.6) and found.costly is None


def test_a_warm_up_below_nothing_is_refused() -> None:
    with pytest.raises(ModelError, match="volume of 0 or more. Got -1"):
        last_sets(known(), -1.0, 5)
    with pytest.raises(ModelError, match="At least 1 effort must follow. Got 0"):
        last_sets(known(), 3.0, 0)
