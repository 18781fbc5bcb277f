from __future__ import annotations

import numpy as np
import pytest

from modeling import ModelError, ResponseModel
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths


@pytest.fixture(scope="module")
def squad():
    rng = np.random.default_rng(1)
    return simulate_squad(simulated_truths("Ricker", 6, rng), Protocol(), Noise(), rng)


@pytest.fixture(scope="module")
def fitted(squad):
    return ResponseModel(standard_volume=15).fit(squad, squad["value"])


def test_a_session_folds_into_the_saved_model_as_into_the_fit(squad, fitted):
    code = sorted(squad["athlete"].unique())[0]
    rows = squad[squad["athlete"] == code]
    kept = ResponseModel.from_learned(fitted.learned_json())
    now, then = kept.fold_in(rows, rows["value"]), fitted.fold_in(rows, rows["value"])
    assert now.response.best_volume == then.response.best_volume
    assert now.peaks == then.peaks
    np.testing.assert_array_equal(now.response.curve.change_pct, then.response.curve.change_pct)


def test_the_peak_of_a_day_has_an_interval_that_narrows_with_efforts(squad, fitted):
    code = sorted(squad["athlete"].unique())[0]
    rows = squad[squad["athlete"] == code]
    session = rows["session"].value_counts().index[0]
    rows = rows[rows["session"] == session]
    few, all_ = rows.head(3), rows
    wide = fitted.fold_in(few, few["value"]).peaks[session]
    narrow = fitted.fold_in(all_, all_["value"]).peaks[session]
    assert wide.low < wide.median < wide.high
    assert narrow.high - narrow.low < wide.high - wide.low


def test_residuals_are_as_noisy_as_the_efforts(squad, fitted):
    code = sorted(squad["athlete"].unique())[0]
    rows = squad[squad["athlete"] == code]
    residuals = fitted.fold_in(rows, rows["value"]).residuals_pct
    assert len(residuals) == len(rows)
    assert np.std(residuals) == pytest.approx(100 * fitted.fit_.learned.noise.effort, rel=0.35)


def test_the_saved_model_names_no_athlete(squad, fitted):
    text = fitted.learned_json()
    assert not any(str(code) in text for code in squad["athlete"].unique())


@pytest.mark.parametrize("text", ["{}", "nonsense", '{"parameters": {"magic": 1}}'])
def test_a_model_saved_by_another_version_is_refused(text):
    with pytest.raises(ModelError, match="saved by another version. Work the curves out again"):
        ResponseModel.from_learned(text)
