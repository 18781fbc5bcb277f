"""Figures of a model in a notebook; `test_one_set` compares them with those of the pages."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.io
import pytest

from dashboard import plot_checks, plot_curve, plot_squad
from dashboard.core.palette import DARK, LIGHT
from modeling import ResponseModel
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths


@pytest.fixture(scope="module")
def efforts() -> pd.DataFrame:
    rng = np.random.default_rng(3)
    return simulate_squad(simulated_truths("Ricker", 5, rng), Protocol(1, 3), Noise(), rng)


@pytest.fixture(scope="module")
def model(efforts: pd.DataFrame) -> ResponseModel:
    return ResponseModel(standard_volume=15).fit(efforts, efforts["value"])


def test_an_athlete_s_curve_is_drawn_with_every_effort(
    efforts: pd.DataFrame, model: ResponseModel
) -> None:
    own = efforts[efforts["athlete"] == "A02"]
    figure = plot_curve(model, "A02", "jumps", "cm")
    drawn = {trace.name: trace for trace in figure.data}
    assert sorted(drawn["efforts"].x) == pytest.approx(sorted(own["volume"]))
    peaks = own["session"].map(model.responses_["A02"].session_peaks)
    points = model.placed_efforts("A02")
    assert sorted(points["share_pct"]) == pytest.approx(sorted(100 * own["value"] / peaks))
    assert set(drawn["efforts"].customdata) == {"undated"}
    assert all("cm, " in text for text in drawn["efforts"].text)
    assert figure.layout.xaxis.title.text == "jumps done before"
    stranger = plot_curve(model, "A99")
    assert "efforts" not in {trace.name for trace in stranger.data}


def test_the_squad_is_drawn_by_name_on_a_light_or_dark_background(model: ResponseModel) -> None:
    figure = plot_squad(model, names={"A01": "Ann Other"}, dark=True)
    assert "Ann Other" in figure.layout.yaxis.ticktext and "A02" in figure.layout.yaxis.ticktext
    assert figure.layout.font.color == DARK.text
    assert plot_squad(model, ["A01", "A99"]).layout.font.color == LIGHT.text


def test_checks_are_three_figures_and_leave_the_notebooks_template_alone(
    model: ResponseModel,
) -> None:
    plotly.io.templates.default = "plotly_white"
    bands, places, noise = plot_checks(model)
    assert plotly.io.templates.default == "plotly_white"
    assert {trace.name for trace in bands.data} == {"expected", "observed"}
    assert sum(places.data[0].y) <= len(model.fit_.posteriors) * 4
    assert noise.data[0].x[0] == pytest.approx(model.squad_.effort_noise_pct.median)
