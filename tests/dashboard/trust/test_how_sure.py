"""Words, figures and advice of the page `How sure`."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from math import sqrt

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest

from dashboard.core.palette import DARK, LIGHT, Palette
from dashboard.trust import how_sure_charts, how_sure_words, noise_words
from dashboard.trust.data_wanted import data_wanted, wanted_sentence, wanted_table, what_helps
from db.file.store import Store
from db.fits.fit_checks import FitCheck
from db.fits.results import KeptFit
from db.roster.athletes import save_athletes
from modeling.curve.families import FAMILIES
from tests.dashboard import artificial

FIT = KeptFit(
    **artificial.fit_facts(7).__dict__,
    fit_id=1,
    measure="jump_height",
    fitted_at=datetime(2026, 3, 15, 9),
)
CHECK = artificial.fit_check()


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def checked(inside: int, sessions: int, miss: float = 0.0, bands: int = 0) -> FitCheck:
    """Return a check with `inside` sessions inside, and `bands` bands that miss by `miss` %."""
    rows = CHECK.bands.assign(observed_pct=CHECK.bands["expected_pct"])
    rows.loc[rows.index < bands, "observed_pct"] -= miss
    return replace(CHECK, sessions=sessions, sessions_inside=inside, bands=rows)


def wide(check: FitCheck) -> FitCheck:
    """The same with intervals of 4 %."""
    middle = check.bands["expected_pct"]
    return replace(check, bands=check.bands.assign(low_pct=middle - 2, high_pct=middle + 2))


@pytest.mark.parametrize(
    ("check", "verdict"),
    [
        (checked(17, 19), "Too few sessions yet"),
        (checked(180, 200), "The model describes what was measured"),
        # Of 200 at 90 %, nine times in ten 173 to 187 are inside (binomial distribution).
        (checked(173, 200), "The model describes what was measured"),
        (checked(170, 200), "The model is surer than it should be"),
        (checked(190, 200), "could be surer than it is"),
        # Of 11 bands, nine times in ten 8 or more are inside; each interval here is 0.8 wide.
        (checked(180, 200, miss=0.7, bands=3), "The model describes what was measured"),
        (checked(180, 200, miss=1.4, bands=4), "its misses are too small to matter"),
        (checked(180, 200, miss=1.6, bands=1), "The model misses part of what was measured"),
        (checked(170, 200, miss=1.6, bands=1), "The model misses part of what was measured"),
        (wide(checked(180, 200, miss=2.1, bands=3)), "The model describes what was measured"),
        (wide(checked(180, 200, miss=2.1, bands=4)), "The model misses part of what was measured"),
    ],
)
def test_verdict_follows_coverage_and_misses_that_matter(check: FitCheck, verdict: str) -> None:
    assert verdict in how_sure_words.verdict(check, FIT)


def test_a_miss_comes_with_its_interval_its_count_and_whether_it_matters() -> None:
    told = [plain(each) for each in how_sure_words.outside_sentences(CHECK, FIT, "efforts")]
    row = CHECK.bands.iloc[8]
    assert told[0] == (
        f"Outside after 16 to 20 efforts: {row['observed_pct']:.2f} % observed,"
        f" {row['expected_pct']:.2f} % expected ({row['low_pct']:.2f} to {row['high_pct']:.2f}),"
        " 18 efforts."
    )
    assert told[1].startswith("The largest miss, 0.9 %, is less than the smallest change")
    assert how_sure_words.outside_sentences(checked(9, 10), FIT, "efforts") == []


def test_sessions_that_were_not_predicted_are_counted() -> None:
    fewer = replace(CHECK, sessions=15)
    assert "could not be predicted" not in how_sure_words.efforts_sentence(CHECK, FIT)
    assert "2 sessions could not be predicted" in how_sure_words.efforts_sentence(fewer, FIT)
    none = replace(CHECK, sessions=0, sessions_inside=0, efforts=0, efforts_inside=0)
    assert "No athlete has two sessions yet" in how_sure_words.efforts_sentence(none, FIT)
    assert "sessions" not in how_sure_words.check_sentence(none)


def test_pictures_have_the_same_numbers_in_words() -> None:
    bands = plain(how_sure_words.bands_in_words(CHECK.bands, "efforts"))
    assert bands.count(";") == len(CHECK.bands) - 1
    expected = float(CHECK.bands["expected_pct"].iloc[0])
    assert f"0 to 1: {expected + 0.2:.1f} % ({expected:.1f} %, {expected - 0.4:.1f} to" in bands
    places = how_sure_words.places_in_words(CHECK.places)
    assert "1, 2, 2, 1, 3, 2, 2, 2, 1, 1. Expected in each: 0 to 4." in places
    noise = plain(noise_words.noise_in_words(noise_words.noise_rows(CHECK, FIT), 1.5))
    assert "effort to effort: 3.0 % (2.8 to 3.3)" in noise


def test_typical_errors_of_tests_are_root_sums_of_squares() -> None:
    rows = noise_words.noise_rows(CHECK, FIT).set_index("name")
    assert rows.loc["test of 1 effort", "size"] == pytest.approx(sqrt(3.0**2 + 2.0**2))
    assert rows.loc["test of 5 efforts", "size_low"] == pytest.approx(sqrt(2.8**2 / 5 + 1.4**2))
    assert rows.loc["4 tests of 5 efforts", "size_high"] == pytest.approx(
        sqrt(3.3**2 / 5 + 2.9**2) / 2
    )


def test_the_page_says_when_day_noise_cannot_be_averaged_away() -> None:
    wild = replace(FIT, day_noise_pct=20.0)
    told = " ".join(noise_words.noise_sentences(CHECK, wild))
    assert "more than 50 days" in told


# Figures


def traces(figure: go.Figure) -> dict[str, go.Scatter]:
    return {trace.name: trace for trace in figure.data}


def test_intervals_are_drawn_before_the_points_they_belong_to() -> None:
    figure = how_sure_charts.bands_figure(CHECK.bands, "efforts", LIGHT)
    assert [trace.name for trace in figure.data] == ["expected", "observed"]
    expected, observed = figure.data
    np.testing.assert_allclose(np.expm1(observed.x), CHECK.bands["mean_volume"])
    np.testing.assert_allclose(observed.y, CHECK.bands["observed_pct"])
    np.testing.assert_allclose(expected.y + expected.error_y.array, CHECK.bands["high_pct"])
    np.testing.assert_allclose(expected.y - expected.error_y.arrayminus, CHECK.bands["low_pct"])


def test_a_band_outside_has_another_shape_and_full_words_when_touched() -> None:
    observed = traces(how_sure_charts.bands_figure(CHECK.bands, "efforts", LIGHT))["observed"]
    assert list(observed.marker.symbol) == ["circle"] * 8 + ["diamond"] + ["circle"] * 2
    assert "after 16 to 20 efforts: 18 efforts" in observed.text[8]


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_sessions_are_drawn_over_the_band_they_should_be_in(palette: Palette) -> None:
    figure = how_sure_charts.places_figure(CHECK.places, palette)
    assert list(figure.data[0].y) == CHECK.places["sessions"].tolist()
    band = figure.layout.shapes[0]
    assert (band.y0, band.y1, band.layer) == (0, 4, "below")
    assert figure.layout.yaxis.range[0] == 0


def test_noise_is_drawn_with_its_interval_against_the_worthwhile_change() -> None:
    rows = noise_words.noise_rows(CHECK, FIT)
    figure = how_sure_charts.noise_figure(rows, 1.5, LIGHT)
    (drawn,) = figure.data
    np.testing.assert_allclose(drawn.x + drawn.error_x.array, rows["size_high"])
    np.testing.assert_allclose(drawn.x - drawn.error_x.arrayminus, rows["size_low"])
    assert figure.layout.shapes[0].x0 == 1.5


def test_one_band_is_a_picture_too() -> None:
    figure = how_sure_charts.bands_figure(CHECK.bands.head(1), "efforts", LIGHT)
    assert len(figure.data[1].x) == 1


# Which data would help


def helps(**changes: object) -> tuple[str, str]:
    row = artificial.responses().iloc[3].to_dict() | {
        "sessions": 10,
        "efforts": 90,
        "fade_tests": 2,
        "tried_low": 0.0,
        "tried_high": 27.0,
        "largest_volume": 30.0,
        "width": 2.0,
        "reach": "inside",
        "loss_at_standard_pct_low": 0.2,
        "loss_at_standard_pct": 0.9,
        "loss_at_standard_pct_high": 1.3,
    }
    what, why = what_helps(row | changes, FIT, "efforts")
    return what, plain(why)


def test_what_helps_follows_from_what_is_missing() -> None:
    assert helps(sessions=0)[0] == "Start with a fade test."
    what, why = helps(tried_low=12.0, tried_high=16.0, fade_tests=0)
    assert what.startswith("Other volumes: about half and twice as much")
    assert (
        why == "Nine in ten of 90 efforts came after 12 to 16 efforts: one volume shows no curve."
    )
    what, why = helps(fade_tests=0)
    assert what == "One fade test would show where the fall begins."
    assert why == "Nothing was tried beyond 30 efforts in 10 sessions."
    what, why = helps(reach="beyond")
    assert what.startswith("A longer fade test")
    assert why == "The best lies between 6 and 13 efforts, beyond what was tried in 10 sessions."
    assert helps(reach="below")[0].startswith("A few efforts after a very short warm-up")


def test_data_that_would_change_little_are_not_asked_for() -> None:
    what, why = helps(loss_at_standard_pct_high=2.0)
    assert what.startswith("More of the same will change little")
    assert "costs 0.9 % (0.2 to 2.0) after 10 sessions" in why
    for still_open in ({"sessions": 5}, {"width": 4.0}):
        what, why = helps(loss_at_standard_pct_high=2.0, **still_open)
        assert what.startswith("Routine sessions on both sides of the standard")
    assert why == "10 sessions leave the best between 6 and 13 efforts."
    assert helps(width=4.0, call="long")[1].endswith("though the call is long.")


def test_athletes_who_need_data_are_listed_with_the_least_known_first(
    shown_store: Store,
) -> None:
    rows = data_wanted(shown_store, "jump_height")
    assert sorted(rows["athlete"]) == ["A4", "A5"]
    assert rows["width"].is_monotonic_decreasing
    tried = rows.set_index("athlete")
    assert (tried.loc["A4", "largest_volume"], tried.loc["A4", "fade_tests"]) == (11.0, 2)
    assert tried.loc["A4", "tried_high"] == pytest.approx(10.85)  # of 0 to 11, twice
    assert pd.isna(tried.loc["A5", "tried_high"])


def test_a_wide_interval_is_listed_though_the_call_is_known(
    shown_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("dashboard.trust.data_wanted.WIDE", 1.9)
    rows = data_wanted(shown_store, "jump_height")
    assert len(rows) == 5
    assert wanted_sentence(rows).startswith("2 athletes without a firm call and 3 athletes with")


def test_names_are_not_read_as_markdown(filled_store: Store) -> None:
    odd = pd.DataFrame([{"athlete": "A5", "name": "![x](y) *Five*"}])
    save_athletes(filled_store, odd, "test")
    table = wanted_table(data_wanted(filled_store, "jump_height"), FIT, "efforts")
    assert r"\!\[x\]\(y\) \*Five\*" in table["athlete"].tolist()


def test_every_family_that_a_fit_may_choose_has_words() -> None:
    assert set(how_sure_words.FAMILIES) == set(FAMILIES)
