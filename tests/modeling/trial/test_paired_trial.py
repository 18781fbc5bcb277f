"""The trial within one athlete, against Fisher's worked example and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import ttest_rel

from modeling import ModelError
from modeling.trial.paired_trial import draw_order, share_as_large, trial_result

# Darwin's differences between crossed and self-fertilised maize in eighths of an inch, as Fisher
# (1935) gives them; 1,726 of the 32,768 sets of signs have a sum as far from 0 as 314.
MAIZE = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]


def test_the_randomisation_test_matches_fishers() -> None:
    assert sum(MAIZE) == 314
    assert share_as_large(MAIZE) == 1726 / 32768


def test_the_interval_matches_students_t() -> None:
    rng = np.random.default_rng(3)
    first = 40.0 * np.exp(0.02 * rng.standard_normal(8))
    second = 41.0 * np.exp(0.02 * rng.standard_normal(8))
    found = trial_result(first, second)
    assert found is not None and found.blocks == 8
    known = ttest_rel(np.log(second), np.log(first))
    interval = known.confidence_interval(0.90)
    assert np.log1p(found.difference_pct.low / 100) == pytest.approx(interval.low)
    assert np.log1p(found.difference_pct.high / 100) == pytest.approx(interval.high)
    greater = ttest_rel(np.log(second), np.log(first), alternative="greater").pvalue
    assert found.chance_second == pytest.approx(1.0 - greater)
    assert found.smallest_share == 2 / 2**8


def test_the_interval_holds_the_truth_nine_times_in_ten() -> None:
    rng = np.random.default_rng(8)
    held = 0
    for _ in range(400):
        first, second = np.exp(0.03 * rng.standard_normal((2, 5)))
        found = trial_result(first, 1.02 * second)
        assert found is not None
        held += found.difference_pct.low <= 2.0 <= found.difference_pct.high
    assert 0.86 <= held / 400 <= 0.94


def test_times_are_better_when_they_are_shorter() -> None:
    found = trial_result([2.0, 2.02, 1.98], [1.9, 1.93, 1.91], higher_is_better=False)
    assert found is not None and found.difference_pct.median > 3.0
    assert found.chance_second > 0.95
    # With three blocks no result can be rarer than 1 in 4, however clear it looks.
    assert found.share_as_large == found.smallest_share == 0.25


def test_an_incomplete_block_is_left_out() -> None:
    found = trial_result([40.0, 41.0, 40.5, np.nan], [41.0, 41.5, np.nan, 42.0])
    assert found is not None and found.blocks == 2
    assert trial_result([40.0, np.nan], [41.0, 42.0]) is None


def test_without_any_difference_the_result_is_even() -> None:
    found = trial_result([40.0, 40.0], [40.0, 40.0])
    assert found is not None
    assert (found.chance_second, found.share_as_large) == (0.5, 1.0)


def test_each_block_holds_both_lengths_in_random_order() -> None:
    order = draw_order(200, seed=5)
    pairs = order.reshape(-1, 2)
    assert (pairs.sum(axis=1) == 1).all()
    assert 70 < pairs[:, 0].sum() < 130
    assert (draw_order(200, seed=5) == order).all()


def test_sampled_signs_of_many_blocks_agree_with_the_t_test() -> None:
    rng = np.random.default_rng(2)
    apart = 0.01 + 0.03 * rng.standard_normal(40)
    expected = ttest_rel(apart, np.zeros(40)).pvalue
    assert share_as_large(apart) == pytest.approx(expected, abs=0.01)


def test_unusable_trials_are_refused() -> None:
    with pytest.raises(ModelError, match="at least 2 blocks"):
        draw_order(1, seed=1)
    with pytest.raises(ModelError, match="above 0"):
        trial_result([40.0, 0.0], [41.0, 41.0])
