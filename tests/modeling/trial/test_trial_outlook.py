"""What to expect of a trial, worked out by hand and from simulated trials."""

from __future__ import annotations

import numpy as np
import pytest

from modeling import CurveDraws, ModelError
from modeling.curve.account import Account, Circumstances
from modeling.curve.length import Needs
from modeling.trial.paired_trial import trial_result
from modeling.trial.trial_outlook import blocks_needed, expected_difference, interval_reach_pct


def test_the_expected_difference_matches_the_curves() -> None:
    # Three curves that fall by 1, 2 and 3 % for every 10 in effect beyond the peak at 10.
    volume = np.array([0.0, 10.0, 20.0, 30.0])
    fall = np.log1p(-np.outer([0.05, 0.0, 0.01, 0.02], [1.0, 2.0, 3.0]))
    account, usual = Account(), Circumstances(0.0, 0.0, 20.0, 16.0)
    needs = Needs(20.0, "short", 10.0, None)
    curve = CurveDraws("A1", 4, 60, volume, fall, account, usual, needs, 1.5)
    done = account.volume_to_do(np.array([10.0, 20.0]), usual)
    found = expected_difference(curve, *done)
    assert found.difference_pct.median == pytest.approx(-2.0)
    assert found.difference_pct.low == pytest.approx(-2.9)
    assert (found.chance_second, found.sessions) == (0.0, 4)
    assert expected_difference(curve, *done[::-1]).chance_second == 1.0


def test_the_interval_will_be_as_wide_as_foreseen() -> None:
    rng = np.random.default_rng(6)
    first, second = np.exp(0.03 * rng.standard_normal((2, 800, 5)))
    found = [trial_result(a, b) for a, b in zip(first, second, strict=True)]
    ends = np.array([(each.difference_pct.low, each.difference_pct.high) for each in found if each])
    # Use the root mean square, as the spread of few values is on average a little too small.
    half = np.sqrt(np.mean(np.square(np.diff(ends) / 2)))
    assert half == pytest.approx(interval_reach_pct(3.0, 5), rel=0.05)


def test_blocks_needed_are_the_fewest_that_keep_zero_outside_the_interval() -> None:
    needed = blocks_needed(-2.0, 3.0, 50)
    assert needed is not None
    assert interval_reach_pct(3.0, needed) <= 2.0 < interval_reach_pct(3.0, needed - 1)
    assert blocks_needed(0.1, 3.0, 50) is None
    with pytest.raises(ModelError, match="at least 2 blocks"):
        interval_reach_pct(3.0, 1)
