"""Means of clustered values, against statsmodels and scipy."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import t

from modeling.trial.clustered_mean import clustered_mean


def test_the_error_matches_statsmodels() -> None:
    rng = np.random.default_rng(4)
    groups = np.repeat([f"A{number}" for number in range(9)], rng.integers(1, 7, 9))
    _, place = np.unique(groups, return_inverse=True)
    values = rng.standard_normal(9)[place] + rng.standard_normal(len(groups)) - 2.0
    found = clustered_mean(values, groups)
    fitted = sm.OLS(values, np.ones(len(values))).fit(
        cov_type="cluster", cov_kwds={"groups": place}
    )
    assert found is not None and (found.values, found.groups) == (len(values), 9)
    assert found.mean.median == pytest.approx(values.mean())
    reach = t.ppf(0.95, 8) * fitted.bse[0]
    assert found.mean.high - found.mean.median == pytest.approx(reach)
    assert found.mean.median - found.mean.low == pytest.approx(reach)


def test_values_of_one_group_count_by_themselves() -> None:
    values = np.array([-1.0, 0.5, -2.0, 0.25])
    found = clustered_mean([*values, np.nan], ["A1"] * 5)
    assert found is not None and (found.values, found.groups) == (4, 1)
    reach = t.ppf(0.95, 3) * values.std(ddof=1) / 2
    assert found.mean.high == pytest.approx(values.mean() + reach)


def test_the_interval_of_clustered_values_holds_the_truth_nine_times_in_ten() -> None:
    rng = np.random.default_rng(11)
    groups = np.repeat(np.arange(12), 4)
    held = 0
    for _ in range(600):
        found = clustered_mean(
            rng.standard_normal(12)[groups] + 0.5 * rng.standard_normal(48), groups
        )
        assert found is not None
        held += found.mean.low <= 0.0 <= found.mean.high
    assert 0.86 <= held / 600 <= 0.94


def test_one_value_has_no_interval() -> None:
    assert clustered_mean([1.0, np.nan], ["A1", "A2"]) is None
