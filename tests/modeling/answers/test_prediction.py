"""`predict` against closed forms, by its coverage, and on an efforts file as it is."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from modeling import ModelError, ResponseModel
from modeling.answers.prediction import COLUMNS, mixture_quantiles
from modeling.curve.account import Circumstances
from modeling.efforts.spots import DRIFT_DAYS, SESSION_LENGTH
from modeling.fit.levels import Levels
from tests.benchmarks.predicted_shares import simulated

SHARES = np.array([0.05, 0.95])
FACTS = ["general_minutes", "rest_minutes", "ambient_c", "hour"]


def test_a_level_is_what_normal_theory_says_given_a_curve(model: ResponseModel) -> None:
    """Compare with the dense way: all covariances written out, nothing summed within spots."""
    fit = model.fit_
    posterior = fit.posteriors[2]
    rows, noise, weights = posterior.rows, fit.learned.noise, posterior.weights
    assert rows is not None and weights is not None
    level = float(fit.learned.level.widened().covariance[0, 0])
    day = rows.day[rows.session_index]
    same = (rows.session_index[:, None] == rows.session_index).astype(float)
    place = fit.spots(rows).place[fit.spots(rows).of_effort]
    covariance = level + noise.drift**2 * np.exp(-np.abs(day[:, None] - day) / DRIFT_DAYS)
    covariance += noise.day**2 / weights.day[rows.session_index] * same
    near = np.exp(-0.5 * ((place[:, None] - place) / SESSION_LENGTH) ** 2)
    covariance += noise.session_curve**2 * same * near
    covariance += np.diag(noise.effort**2 / weights.effort)
    drawn = fit.curves(posterior, rows.volume) + posterior.draws.top
    residual = fit.learned.centred(rows)[:, None] - drawn
    asked = np.array([-30.0, float(rows.day[1]), 400.0])
    with_efforts = level + noise.drift**2 * np.exp(-np.abs(asked[:, None] - day) / DRIFT_DAYS)
    mean = with_efforts @ np.linalg.solve(covariance, residual)
    told = with_efforts @ np.linalg.solve(covariance, with_efforts.T)
    variance = level + noise.drift**2 - np.diag(told)
    found_mean, found_variance, _ = Levels.of(fit, posterior).on(asked)
    assert found_mean == pytest.approx(mean, abs=1e-9)
    assert found_variance == pytest.approx(variance, rel=1e-6)
    averaged, _, _ = Levels.of(fit, posterior).on(None)
    each, _, _ = Levels.of(fit, posterior).on(rows.day)
    assert averaged[0] == pytest.approx(each.mean(axis=0))


def test_quantiles_of_a_mixture() -> None:
    same = mixture_quantiles(np.full((2, 5), 3.0), np.array([[4.0], [1e-8]]), SHARES)
    assert same[0] == pytest.approx(norm.ppf(SHARES, 3.0, 2.0))
    assert same[1] == pytest.approx([3.0, 3.0], abs=1e-3)
    mean, sd = np.array([[0.0, 5.0, 1.0]]), np.array([[1.0, 0.1, 3.0]])
    found = mixture_quantiles(mean, sd**2, SHARES)
    below = norm.cdf(found.T, mean, sd).mean(axis=1)
    assert below == pytest.approx(SHARES)


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
def test_intervals_cover_later_sessions_as_often_as_they_should() -> None:
    """Circumstances are of every kind, and some athletes are new to the fit."""
    found = pd.DataFrame(
        [simulated(seed, athletes=11, routine=5, later=4) for seed in range(20, 25)]
    ).mean()
    assert 0.85 <= found["single efforts, 90 %"] <= 0.95
    assert 0.42 <= found["single efforts, 50 %"] <= 0.58
    assert 0.82 <= found["average days, 90 %"] <= 0.98
    assert 0.78 <= found["new athletes' efforts, 90 %"] <= 1.0


def test_predictions_keep_the_index_of_their_rows_in_any_order(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    shuffled = known.sample(frac=1.0, random_state=1)
    told = model.predict(shuffled, interval=0.9)
    assert list(told) == list(COLUMNS)
    pd.testing.assert_frame_equal(told.loc[known.index], model.predict(known, interval=0.9))
    assert model.predict(shuffled) == pytest.approx(told["mean"].to_numpy())
    ordered = "effort_low average_low mean average_high effort_high".split()
    assert (np.diff(told[ordered], axis=1) >= 0).all()
    wider = model.predict(known, interval=0.99)
    assert (wider["effort_low"] < told.loc[known.index, "effort_low"]).all()


def test_without_circumstances_the_usual_ones_are_assumed(model: ResponseModel) -> None:
    volume = np.array([0.0, 5.0, 12.0, 20.0])
    bare = pd.DataFrame({"athlete": "A03", "volume": volume})
    usual = {name: getattr(model.usual_, name) for name in FACTS}
    told = model.predict(bare, interval=0.9)
    pd.testing.assert_frame_equal(told, model.predict(bare.assign(**usual), interval=0.9))
    # A longer rest leaves less in effect, so more volume is needed for the same result.
    long = {**usual, "rest_minutes": usual["rest_minutes"] + 20.0}
    around = Circumstances(**long)
    effect = model.account_.volume_in_effect(volume, model.usual_)
    more = np.maximum(model.account_.volume_to_do(effect, around), 0.0)
    rested = model.predict(bare.assign(volume=more, **long))
    assert rested[1:] == pytest.approx(told["mean"].to_numpy()[1:])
    # Efforts of one session follow one another: only the volume before the first precedes the rest.
    first, *others = model.predict(bare.assign(session=1, **long))
    assert first == model.predict(bare.assign(**long))[0]
    assert others != pytest.approx(model.predict(bare.assign(**long))[1:])


def test_what_moves_the_level_moves_a_prediction(model: ResponseModel) -> None:
    shared = model.fit_.learned.shared
    effect = dict(zip(shared.marks, shared.value, strict=False))["game"]
    asked = pd.DataFrame({"athlete": ["A01", "A02"], "volume": 10.0})
    plain, game = model.predict(asked), model.predict(asked.assign(context="game"))
    assert np.log(game / plain) == pytest.approx(effect)


def test_an_efforts_file_is_read_as_it_is(known: pd.DataFrame, model: ResponseModel) -> None:
    midnight = pd.Timestamp("2026-03-02")
    hours = known["hour"].round(1)
    when = midnight + pd.to_timedelta(known["day"] * 24.0 + hours, unit="h")
    file = pd.DataFrame(
        {
            "athlete": known["athlete"],
            "started_at": when.dt.round("min").dt.strftime("%Y-%m-%dT%H:%M") + "+01:00",
            "measure": "jump_height",
            "effort": known.groupby("session").cumcount() + 1,
            "volume_before": known["volume"].where(known["kind"] == "routine"),
            "excluded": None,
            **known[["kind", "context", *FACTS[:3]]],
        }
    )
    slipped = file.iloc[:1].assign(effort=99, volume_before=3.0, excluded="slipped")
    file = pd.concat([file, slipped], ignore_index=True)
    values = np.append(known["value"], np.nan)
    again = ResponseModel(standard_volume=15).fit(file, values)
    plain = known.assign(day=known["day"] + hours / 24.0, hour=hours)
    same = ResponseModel(standard_volume=15).fit(plain, plain["value"])
    for code, response in same.responses_.items():
        assert again.responses_[code].best_volume.median == pytest.approx(
            response.best_volume.median, rel=1e-6
        )
    told = again.predict(file)
    assert told[:-1] == pytest.approx(same.predict(plain), rel=1e-9)
    assert np.isfinite(told[-1])


def test_predicted_times_are_one_over_predicted_speeds(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    times = ResponseModel(standard_volume=15, higher_is_better=False).fit(known, 1 / known["value"])
    speed, time = (each.predict(known, interval=0.9) for each in (model, times))
    assert time["mean"].to_numpy() == pytest.approx(1 / speed["mean"])
    assert time["effort_low"].to_numpy() == pytest.approx(1 / speed["effort_high"])
    assert time["average_high"].to_numpy() == pytest.approx(1 / speed["average_low"])


def test_impossible_predictions_get_a_sentence(known: pd.DataFrame, model: ResponseModel) -> None:
    asked = pd.DataFrame({"athlete": ["A01"], "volume": [5.0]})
    with pytest.raises(ModelError, match=r"interval must be between 0 and 1.*Got 90"):
        model.predict(asked, interval=90)
    with pytest.raises(ModelError, match=r"lacks volume"):
        model.predict(asked[["athlete"]])
    with pytest.raises(ModelError, match=r"no date and time \(row 0: yesterday\)"):
        model.predict(asked.assign(started_at="yesterday"))
    with pytest.raises(ModelError, match=r"Got ndarray of shape \(1, 2\)"):
        model.predict(asked.to_numpy())
    two = pd.concat([known.assign(measure="jump"), known.assign(measure="throw")])
    with pytest.raises(ModelError, match=r"2 measures \(jump, throw\)"):
        ResponseModel().fit(two, two["value"])
