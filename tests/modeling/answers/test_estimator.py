"""scikit-learn's contract, as far as a model of named athletes can keep it."""

from __future__ import annotations

import pickle
from typing import Any, Self

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone, is_regressor
from sklearn.compose import ColumnTransformer
from sklearn.model_selection import GroupKFold, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import check_estimator
from sklearn.utils.validation import check_is_fitted, validate_data

from modeling import ModelError, ResponseModel, SquadGuessWarning
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths

UNNAMED = "fits a plain array, whose columns have no names: nothing says whose effort a row is"
WORDS = (
    "wants what scikit-learn says of arrays; a table without the columns needed is refused first"
)
SPARSE = "fits a sparse matrix, whose columns have no names either"
CANNOT_APPLY = {
    "check_fit_score_takes_y": UNNAMED,
    "check_estimators_overwrite_params": UNNAMED,
    "check_dont_overwrite_parameters": UNNAMED,
    "check_estimators_fit_returns_self": UNNAMED,
    "check_readonly_memmap_input": UNNAMED,
    "check_n_features_in_after_fitting": UNNAMED,
    "check_positive_only_tag_during_fit": UNNAMED,
    "check_estimators_dtypes": UNNAMED,
    "check_dtype_object": UNNAMED,
    "check_pipeline_consistency": UNNAMED,
    "check_estimators_pickle": UNNAMED,
    "check_f_contiguous_array_estimator": UNNAMED,
    "check_regressors_train": UNNAMED,
    "check_regressor_data_not_an_array": UNNAMED,
    "check_regressors_no_decision_function": UNNAMED,
    "check_supervised_y_2d": UNNAMED,
    "check_regressors_int": UNNAMED,
    "check_methods_sample_order_invariance": UNNAMED,
    "check_methods_subset_invariance": UNNAMED,
    "check_dict_unchanged": UNNAMED,
    "check_fit_idempotent": UNNAMED,
    "check_fit_check_is_fitted": UNNAMED,
    "check_n_features_in": UNNAMED,
    "check_fit2d_predict1d": UNNAMED,
    "check_complex_data": WORDS,
    "check_estimators_empty_data_messages": WORDS,
    "check_fit2d_1sample": WORDS,
    "check_fit2d_1feature": WORDS,
    "check_estimator_sparse_tag": SPARSE,
    "check_estimator_sparse_array": SPARSE,
    "check_estimator_sparse_matrix": SPARSE,
}
"""scikit-learn's checks that cannot apply, each with its reason."""


class FromArrays(ResponseModel):
    """The model with names added to an array's columns, so that every check can run on it."""

    def __init__(self, *, rounds: int = 1, unknown: str = "squad") -> None:
        super().__init__(rounds=rounds, unknown=unknown)

    def fit(self, X: Any, y: Any) -> Self:
        X, y = validate_data(self, X, y, y_numeric=True)
        columns = self.n_features_in_
        super().fit(named(X), y)
        self.n_features_in_ = columns
        del self.feature_names_in_
        return self

    def predict(self, X: Any) -> Any:
        check_is_fitted(self)
        return super().predict(named(validate_data(self, X, reset=False)))

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        # validate_data refuses missing numbers, and the noise in the checks is no warm-up response.
        tags.input_tags.allow_nan = False
        tags.regressor_tags.poor_score = True
        return tags


def named(X: np.ndarray) -> pd.DataFrame:
    first = np.abs(X[:, 0])
    return pd.DataFrame(
        {
            "athlete": np.floor(10.0 * first) % 3,
            "session": np.floor(100.0 * first) % 7,
            "volume": np.abs(X[:, -1]),
        }
    )


def failed(estimator: ResponseModel, expected: dict[str, str] | None = None) -> list[str]:
    found = check_estimator(estimator, expected_failed_checks=expected, on_fail=None, on_skip=None)
    return sorted({f"{each['check_name']} {each['status']}" for each in found if each["exception"]})


def test_scikit_learn_s_checks_fail_only_where_they_cannot_apply() -> None:
    wanted = sorted(f"{name} xfail" for name in CANNOT_APPLY)
    skipped = "check_array_api_input skipped"
    assert [each for each in failed(ResponseModel(), CANNOT_APPLY) if each != skipped] == wanted


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
def test_every_check_passes_once_the_columns_have_names() -> None:
    assert failed(FromArrays()) in ([], ["check_array_api_input skipped"])


def test_a_clone_drops_what_was_learned_and_a_pickle_keeps_it(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    fresh = clone(model)
    assert fresh.get_params() == model.get_params() and not hasattr(fresh, "responses_")
    again = pickle.loads(pickle.dumps(model))
    assert again.predict(known).tolist() == model.predict(known).tolist()
    pd.testing.assert_frame_equal(again.to_frame(), model.to_frame())
    assert is_regressor(model)
    assert repr(ResponseModel(rounds=3)) == "ResponseModel(rounds=3)"


def test_the_fitted_columns_are_listed(known: pd.DataFrame, model: ResponseModel) -> None:
    assert model.feature_names_in_.tolist() == list(known)
    assert model.n_features_in_ == len(known.columns)


def test_a_score_is_the_share_explained_without_excluded_rows(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    left = known["value"] - model.predict(known)
    share = 1.0 - (left**2).sum() / ((known["value"] - known["value"].mean()) ** 2).sum()
    assert model.score(known, known["value"]) == pytest.approx(share)
    spoiled = known.assign(value=known["value"].where(known.index > 0), excluded=None)
    spoiled.loc[0, "excluded"] = "slipped"
    assert model.score(spoiled, spoiled["value"]) == pytest.approx(
        model.score(known[1:], known["value"][1:])
    )


def test_it_works_as_a_step_of_a_pipeline(known: pd.DataFrame, model: ResponseModel) -> None:
    """Transformers pass the columns on by name once they are set to give pandas."""
    celsius = FunctionTransformer(lambda fahrenheit: (fahrenheit - 32.0) / 1.8)
    steps = ColumnTransformer(
        [("air", celsius, ["ambient_c"])], remainder="passthrough", verbose_feature_names_out=False
    )
    line = make_pipeline(steps, ResponseModel(standard_volume=15)).set_output(transform="pandas")
    own = known.assign(ambient_c=known["ambient_c"] * 1.8 + 32.0)
    told = line.fit(own, own["value"]).predict(own, interval=0.9)
    assert told["mean"].to_numpy() == pytest.approx(model.predict(known), rel=1e-6)
    assert line.score(own, own["value"]) == pytest.approx(model.score(known, known["value"]))


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
def test_cross_validation_leaves_out_sessions_or_athletes(known: pd.DataFrame) -> None:
    model, y = ResponseModel(unknown="squad", rounds=4), known["value"]
    kept = {
        by: cross_val_score(model, known, y, groups=known[by], cv=GroupKFold(3))
        for by in ("session", "athlete")
    }
    assert kept["session"].min() > 0.3
    # The level of an athlete never seen is not known, so the score is low.
    assert kept["athlete"].max() < 0.1
    strangers = cross_val_score(
        ResponseModel(rounds=1), known, y, groups=known["athlete"], cv=GroupKFold(3), scoring=knows
    )
    assert strangers.tolist() == [0.0, 0.0, 0.0]


def knows(model: ResponseModel, X: pd.DataFrame, y: pd.Series) -> float:
    try:
        model.predict(X)
    except ModelError as error:
        assert "Not in the fit: " in str(error)
        return 0.0
    return 1.0


@pytest.mark.parametrize(
    ("parameter", "value", "allowed"),
    [
        ("standard_volume", -1.0, "0 or more, or None. Got -1.0"),
        ("standard_volume", "15", "0 or more, or None. Got '15'"),
        ("worthwhile_pct", 0, "above 0. Got 0"),
        ("higher_is_better", "yes", "True or False. Got 'yes'"),
        ("firm_chance", 0.5, "between 0.5 and 1. Got 0.5"),
        ("family", "Ricker", "a family of curves"),
        ("rounds", 2.5, "a whole number above 0. Got 2.5"),
        ("tolerance", np.nan, "above 0. Got nan"),
        ("compute", 2, "Processes or Cluster of modeling, or None. Got 2"),
        ("unknown", "ignore", "'error' or 'squad'. Got 'ignore'"),
    ],
)
def test_parameters_are_checked_when_the_model_is_fitted(
    known: pd.DataFrame, parameter: str, value: object, allowed: str
) -> None:
    model = ResponseModel(**{parameter: value})
    with pytest.raises(ModelError, match=f"{parameter} must be {allowed}"):
        model.fit(known, known["value"])


def test_bad_tables_get_a_sentence(known: pd.DataFrame) -> None:
    model, y = ResponseModel(), known["value"]
    with pytest.raises(ModelError, match=r"requires y to be passed.*Give the value of each"):
        model.fit(known, None)
    with pytest.raises(ModelError, match=r"Got ndarray of shape \(\d+, 2\)"):
        model.fit(known[["volume", "value"]].to_numpy(), y)
    with pytest.raises(ModelError, match=r"Got list, whose columns have no names"):
        model.fit([[1, 2]], [3])
    with pytest.raises(ModelError, match=r"lacks athlete, volume\. It needs .*or started_at"):
        model.fit(known.drop(columns=["athlete", "volume"]), y)
    with pytest.raises(ModelError, match=r"1 of \d+ rows have an athlete that is not there"):
        model.fit(known.assign(athlete=known["athlete"].where(known.index > 0)), y)
    with pytest.raises(ModelError, match=r"general_minutes holds something that is not a number"):
        model.fit(known.assign(general_minutes="some"), y)


def test_unknown_athletes_are_named_or_predicted_as_the_squad(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    asked = pd.DataFrame({"athlete": ["A1", "A01"], "volume": [5.0, 5.0]})
    with pytest.raises(ModelError, match=r"Not in the fit: A1. It has A01, A02, .* and 2 more"):
        model.predict(asked)
    kind = pickle.loads(pickle.dumps(model)).set_params(unknown="squad")
    told = kind.predict(asked, interval=0.9)
    width = np.log(told["average_high"] / told["average_low"])
    assert width[0] > 3 * width[1]
    assert told["mean"][1] == model.predict(asked[1:])[0]
    nobody = ResponseModel.from_learned(model.learned_json())
    with pytest.raises(ModelError, match=r"It has no athlete"):
        nobody.predict(asked)
    assert nobody.set_params(unknown="squad").predict(asked)[0] == pytest.approx(told["mean"][0])


def test_a_volume_beyond_those_tried_warns_of_a_squad_guess(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    rows = next(p.rows for p in model.fit_.posteriors if p.rows and p.rows.athlete == "A02")
    most = float(model.usual_volumes.to_do(rows.volume.max()))
    asked = pd.DataFrame({"athlete": "A02", "volume": [0.0, most - 0.1]})
    model.predict(asked)
    with pytest.warns(SquadGuessWarning, match=rf"A02 from {most:.1f} on\. There") as told:
        model.predict(asked.assign(volume=most + 0.2))
    assert told[0].filename == __file__
    many = pd.DataFrame({"athlete": sorted(model.responses_), "volume": 500.0})
    with pytest.warns(SquadGuessWarning, match=r"A05 from .* on and 2 more\. There") as told:
        model.predict(many)
    anybody = float(model.usual_volumes.to_do(model.fit_.data.highest_volume))
    assert f"Nobody has tried more than {anybody:.1f}: beyond" in str(told[0].message)


def test_a_volume_well_below_those_tried_warns_of_a_squad_guess() -> None:
    rng = np.random.default_rng(4)
    truths = simulated_truths("Ricker", 5, rng)
    efforts = simulate_squad(truths, Protocol(1, 3), Noise(), rng)
    late = efforts[(efforts["athlete"] != "A02") | (efforts["kind"] == "routine")]
    model = ResponseModel(rounds=3).fit(late, late["value"])
    tried = late.loc[late["athlete"] == "A02", "volume"]
    least, near = tried.min(), tried.min() - 0.1 * np.ptp(tried)
    asked = pd.DataFrame({"athlete": ["A01", "A02"], "volume": [least, near]})
    model.predict(asked)
    asked["volume"] = [least, 0.0]
    with pytest.warns(SquadGuessWarning, match=rf"tried: A02 below {least:.1f}\. There") as told:
        wide = model.predict(asked, interval=0.9)
    assert "Nobody" not in str(told[0].message)
    width = np.log(wide["average_high"] / wide["average_low"])
    assert width[1] > 1.3 * width[0]
