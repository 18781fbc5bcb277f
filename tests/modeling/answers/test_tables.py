"""Tables, lengths and their worth, as done in the squad's usual circumstances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from modeling import ModelError, ResponseModel
from modeling.answers.tables import RESPONSE_COLUMNS
from modeling.curve.length import Limits
from modeling.curve.usual_volumes import CIRCUMSTANCES, SPANS, TOLD_VOLUMES


def test_a_row_gives_the_response_in_volumes_as_done(model: ResponseModel) -> None:
    table = model.to_frame()
    usual = [f"usual_{name}" for name in CIRCUMSTANCES]
    in_effect = [f"{name}_in_effect" for name in TOLD_VOLUMES]
    assert list(table) == [*RESPONSE_COLUMNS, *in_effect, *usual]
    assert table["athlete"].tolist() == list(model.responses_)
    rest = 2.0 ** (-model.usual_.rest_minutes / model.account_.half_life_minutes)
    share = model.account_.stretch(model.usual_) * rest
    general = model.account_.general_per_minute * model.usual_.general_minutes
    for row in table.to_dict("records"):
        response = model.responses_[row["athlete"]]
        assert row["best_volume_in_effect"] == response.best_volume.median
        assert row["best_volume"] == pytest.approx(
            max(response.best_volume.median / share - general, 0.0)
        )
        assert row["hold_volume_low"] == pytest.approx(response.hold_volume.low / share)
        assert row["gain_pct_high"] == response.gain_pct.high
        assert row["call"] == response.call
        good = model.good_range(row["athlete"])
        assert [row["good_from"], row["good_to"]] == pytest.approx(
            [np.nan, np.nan] if good is None else list(good), nan_ok=True
        )
    assert table["last_session"].isna().all()
    assert {name for name in SPANS if name in table} == set(SPANS)


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
def test_curves_begin_at_zero_and_agree_with_predictions(model: ResponseModel) -> None:
    curves = model.curves()
    assert (curves.groupby("athlete")["volume"].min() == 0.0).all()
    assert (np.diff(curves[["change_pct_low", "change_pct", "change_pct_high"]], axis=1) >= 0).all()
    own = curves[curves["athlete"] == "A02"]
    shown = model.predict(own[["athlete", "volume"]])
    # Predictions are this curve at the athlete's level, so compare what is lost against the peak.
    lost = 100.0 * (shown / shown.max() - 1.0)
    assert lost == pytest.approx(own["change_pct"] - own["change_pct"].max(), abs=0.5)
    assert own["volume_in_effect"].to_numpy() == pytest.approx(
        model.account_.volume_in_effect(own["volume"].to_numpy(), model.usual_)
    )


def test_an_athlete_without_data_gets_the_squad_s_row_and_the_standard(
    model: ResponseModel,
) -> None:
    [row] = model.to_frame(["A99"]).to_dict("records")
    assert (row["sessions"], row["call"], row["length"]) == (0, "not known", 15.0)
    assert row["best_volume_high"] > model.to_frame()["best_volume_high"].median()
    assert model.good_range("A99") is None
    assert set(model.curves(["A99", "A01"])["athlete"]) == {"A99", "A01"}
    with pytest.raises(ModelError, match="Name at least one athlete"):
        model.to_frame([])


def test_dates_come_back(known: pd.DataFrame) -> None:
    when = pd.Timestamp("2026-03-02T09:30") + pd.to_timedelta(known["day"], unit="D")
    dated = known.drop(columns=["day", "session"]).assign(started_at=when)
    model = ResponseModel(standard_volume=15).fit(dated, dated["value"])
    last = when.groupby(known["athlete"]).max()
    assert model.to_frame().set_index("athlete")["last_session"].tolist() == last.tolist()


def test_a_length_keeps_to_the_most_done_and_to_limits(
    known: pd.DataFrame, model: ResponseModel
) -> None:
    routine = known[known["kind"] == "routine"].groupby("athlete")["volume"].max()
    assert model.most_done_ == routine.to_dict()
    far = replace(
        model.responses_["A01"], call="long", advised_volume=200.0, good_range=(150.0, 250.0)
    )
    asked = ResponseModel.from_learned(model.learned_json())
    asked.responses_ = {"A01": far}
    asked.most_done_ = {"A01": 20.0}
    length = asked.length("A01")
    assert (length.volume, length.limited_by) == (25.0, "most done")
    length = asked.length("A01", Limits(most_done=100.0, most_allowed=40.0))
    assert (length.volume, length.limited_by) == (40.0, "club")
    asked.most_done_ = {}
    assert asked.length("A01").volume == np.floor(1.25 * 15)
    colder = replace(asked.usual_, rest_minutes=asked.usual_.rest_minutes + 30.0)
    assert asked.length("A01", Limits(500.0), colder).top_up > 0


def test_worth_is_given_in_volumes_as_done(model: ResponseModel) -> None:
    single = model.worth()
    assert single.worth_pct == model.squad_.against_single.worth_pct
    assert float(model.usual_volumes.in_effect(single.volume)) == pytest.approx(
        max(model.squad_.best_single_volume, float(model.usual_volumes.in_effect(0.0)))
    )
    standard = model.worth(15)
    assert standard.volume == 15
    told = model.squad_.against_standard.worth_pct
    assert standard.worth_pct.median == pytest.approx(told.median)
    assert model.worth(0).worth_pct.median > standard.worth_pct.median
    with pytest.raises(ModelError, match="volume must be a number, 0 or more. Got -1"):
        model.worth(-1)
