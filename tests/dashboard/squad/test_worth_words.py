from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from dashboard.athlete import change_words
from dashboard.athlete.season_chart import season_figure
from dashboard.core.palette import LIGHT
from dashboard.squad import worth_words
from dashboard.squad.worth_chart import lengths_figure
from db.fits.results import KeptFit
from tests.dashboard import artificial

FIT = KeptFit(
    **vars(artificial.fit_facts(1)),
    fit_id=1,
    measure="jump_height",
    fitted_at=pd.Timestamp("2026-03-15"),
)
WORTH = artificial.worth()
CHANGE = {
    "chance": 0.93,
    "tellable": True,
    "since": pd.Timestamp("2026-03-12 10:00"),
    "since_earliest": pd.Timestamp("2026-02-26 10:00"),
    "since_latest": pd.Timestamp("2026-03-14 10:00"),
    "sessions_since": 2,
    "before": 20.0,
    "before_low": 16.0,
    "before_high": 25.0,
    "after": 40.0,
    "after_low": 31.0,
    "after_high": 52.0,
}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("single", "standard", "told"),
    [
        ((1.7, 2.9), (2.0, 3.3), "Yes: no single length would do"),
        ((0.5, 2.9), (2.0, 3.3), "Not known yet"),
        ((0.1, 1.2), (2.0, 3.3), "No: one length is fine, but 11 efforts would be better"),
        ((0.1, 1.2), (0.4, 3.3), "whether 11 efforts would beat the standard is not known"),
        ((0.1, 1.2), (0.2, 1.4), "No: one length is fine, and the standard is good enough"),
    ],
)
def test_the_answer_follows_from_both_intervals(
    single: tuple[float, float], standard: tuple[float, float], told: str
) -> None:
    ends = pd.DataFrame([single, standard], columns=["worth_pct_low", "worth_pct_high"])
    assert told in worth_words.worth_headline(WORTH.assign(**ends), FIT, "efforts")


def test_what_own_lengths_bring_comes_with_interval_and_count() -> None:
    single, standard = map(plain, worth_words.worth_sentences(WORTH, FIT, "efforts"))
    assert "the best single length (11 efforts) for everybody: 2.2 % (1.7 to 2.9)" in single
    assert "over 4 athletes. 2 (1 to 3) of 4 gain more than 1.5 %" in single
    assert "the standard (15 efforts) for everybody: 2.6 % (2.0 to 3.3)" in standard


@pytest.mark.parametrize(
    ("differ", "told"),
    [
        (0.97, "97 %. What was measured is 32 times as likely"),
        (0.2, "20 %. What was measured is 4.0 times less likely"),
        (1.0, "over 99 %. What was measured is over 1,000 times as likely"),
    ],
)
def test_the_evidence_that_athletes_differ_is_compared_with_no_difference(
    differ: float, told: str
) -> None:
    sentence = plain(worth_words.differ_sentence(replace(FIT, chance_athletes_differ=differ)))
    assert told in sentence
    assert sentence.endswith("over 4 athletes and 17 sessions.")


def test_the_spread_is_given_as_a_factor() -> None:
    assert "within a factor of 2.2 (1.6 to 3.3)" in worth_words.spread_sentence(FIT)


def test_a_change_comes_with_date_sizes_and_chance() -> None:
    told = plain(change_words.change_sentence(CHANGE, "efforts"))
    assert told == (
        "Best volume went from 20 (16 to 25) to 40 (31 to 52) efforts since 12 Mar 2026"
        " (26 Feb to 14 Mar 2026) (chance 93 %, 2 sessions since)."
    )


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"tellable": False}, "a changed curve and a changed level look alike"),
        ({"chance": 0.06}, "No sign that the best volume has changed"),
    ],
)
def test_a_change_that_is_not_known_is_not_guessed(change: dict[str, object], told: str) -> None:
    sentence = change_words.change_sentence(CHANGE | change, "efforts")
    assert told in sentence
    assert "from 20" not in sentence


def test_too_few_sessions_are_pointed_out() -> None:
    assert "4 are needed" in change_words.change_sentence(None, "efforts", 3)
    assert "4 are needed" in change_words.none_changed(0, 3)
    assert "of 7 athletes" in change_words.none_changed(7, 9)


def test_a_fit_of_an_earlier_version_says_that_it_did_not_look() -> None:
    assert "earlier version" in change_words.change_sentence(None, "efforts", 9)
    assert "earlier version" in change_words.none_changed(0, 9)


def test_the_picture_of_worth_has_a_bar_per_length_and_a_line_at_what_matters() -> None:
    figure = lengths_figure(WORTH, 1.5, "efforts", LIGHT)
    (points,) = figure.data
    assert list(points.x) == [2.2, 2.6]
    assert list(points.error_x.array) == pytest.approx([0.7, 0.7])
    assert list(points.error_x.arrayminus) == pytest.approx([0.5, 0.6])
    assert figure.layout.shapes[0].x0 == 1.5
    told = plain(" ".join(note.text for note in figure.layout.annotations))
    assert "the best single length (11 efforts)" in told and "the standard (15 efforts)" in told


@pytest.mark.parametrize(
    ("change", "marks", "told"),
    [
        (CHANGE, 2, "best after 20 (16 to 25), then<br>40 (31 to 52), chance 93 %"),
        (CHANGE | {"tellable": False}, 2, "curve or level changed"),
        (CHANGE | {"chance": 0.5}, 0, ""),
        (None, 0, ""),
    ],
)
def test_the_season_is_marked_where_the_curve_changed(
    change: dict[str, object] | None, marks: int, told: str
) -> None:
    days = pd.date_range("2026-02-20", periods=4, freq="7D")
    peaks = pd.DataFrame({"started_at": days, "peak_value": 40.0, "efforts": [3, 12, 3, 3]})
    figure = season_figure(peaks, change, "cm", LIGHT)
    assert len(figure.layout.shapes) == marks
    assert plain(" ".join(note.text for note in figure.layout.annotations)) == told
    assert "from 12 efforts" in figure.data[0].text[1]
