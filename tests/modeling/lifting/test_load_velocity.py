"""The load-velocity line against scipy, statsmodels and published lines."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy.stats import linregress

from modeling.errors import ModelError
from modeling.lifting.load_velocity import FALLBACK_SPEED, MinimumSpeed, fit_line
from modeling.lifting.published_speeds import BENCH_PRESS, FULL_SQUAT, PARALLEL_SQUAT

LOADS = [40.0, 60.0, 80.0, 100.0, 110.0]
SPEEDS = [1.09, 0.90, 0.71, 0.49, 0.41]
TWO_DAYS = [*LOADS, 50.0, 70.0, 90.0]
TWO_DAYS_SPEEDS = [*SPEEDS, 0.93, 0.73, 0.56]
DAYS = ["Monday"] * 5 + ["Thursday"] * 3
KNOWN = MinimumSpeed(0.3, 0.0, "made up")


def test_one_day_is_scipy_s_regression() -> None:
    line, found = fit_line(LOADS, SPEEDS), linregress(LOADS, SPEEDS)
    assert (line.slope, line.level) == pytest.approx((found.slope, found.intercept))
    assert (line.sets, line.days, line.day_sets, line.freedom) == (5, 1, 5, 3)
    assert line.heaviest == 110.0


@pytest.mark.parametrize("day", ["Monday", "Thursday"])
def test_two_days_are_statsmodels_parallel_lines(day: str) -> None:
    """The interval of a load ends where the band of the line crosses the speed."""
    line = fit_line(TWO_DAYS, TWO_DAYS_SPEEDS, DAYS, day)
    frame = pd.DataFrame({"load": TWO_DAYS, "speed": TWO_DAYS_SPEEDS, "day": DAYS})
    peer = smf.ols("speed ~ 0 + C(day) + load", frame).fit()
    assert line.slope == pytest.approx(peer.params["load"])
    assert line.level == pytest.approx(peer.params[f"C(day)[{day}]"])
    assert line.noise == pytest.approx(np.sqrt(peer.scale))
    found = line.load_at(0.3)

    def band(load: float) -> pd.Series:
        at = peer.get_prediction(pd.DataFrame({"load": [load], "day": [day]}))
        return at.summary_frame(alpha=0.10).iloc[0]

    assert band(found.median)["mean"] == pytest.approx(0.3)
    assert band(found.low)["mean_ci_lower"] == pytest.approx(0.3)
    assert band(found.high)["mean_ci_upper"] == pytest.approx(0.3)


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(7)
    loads, truth = np.array(TWO_DAYS), (1.5 - 0.24) / 0.01
    held = 0
    for _ in range(600):
        day_level = np.where(np.array(DAYS) == "Monday", 0.06, 0.0)
        speeds = 1.5 + day_level - 0.01 * loads + rng.normal(0, 0.03, len(loads))
        minimum = MinimumSpeed(0.24 + rng.normal(0, 0.06), 0.06, "made up")
        found = fit_line(loads, speeds, DAYS, "Thursday").one_repetition_max(minimum)
        held += found.low <= truth <= found.high
    # The share has a standard deviation of 1.2 %; the small samples make intervals a bit cautious.
    assert 0.88 <= held / 600 <= 0.96


def test_a_line_without_noise_is_found_in_closed_form() -> None:
    """The published parallel squat: %1RM = 120.15 - 83.54 v, so v = (120.15 - %1RM) / 83.54."""
    maximum = 140.0
    loads = np.array([56.0, 70.0, 84.0, 98.0])
    speeds = (120.15 - 100 * loads / maximum) / 83.54
    line = fit_line(loads, speeds)
    at_100 = MinimumSpeed(20.15 / 83.54, 0.0, "the line at 100 %")
    assert line.one_repetition_max(at_100).median == pytest.approx(maximum)
    assert line.load_at_share(0.7, at_100).median == pytest.approx(98.0)
    assert line.speed_at_share(0.7, at_100) == pytest.approx(50.15 / 83.54)


def test_uncertainty_about_the_speed_widens_the_interval() -> None:
    line = fit_line(LOADS, SPEEDS)
    sharp, wide = line.load_at(0.25), line.one_repetition_max(FALLBACK_SPEED)
    assert sharp.median == wide.median
    assert wide.low < sharp.low < sharp.median < sharp.high < wide.high


@pytest.mark.parametrize(
    ("loads", "speeds", "days", "of_day", "said"),
    [
        ([50, 60], [0.9, 0.8], None, None, "needs 3 sets or more. There are 2"),
        ([50, 50, 50], [0.9, 0.8, 0.7], None, None, "different loads on the same day"),
        ([50, 60, 70], [0.9, 0.8, 0.7], ["a", "b", "b"], None, "more sets than days"),
        ([50, 60, 70], [0.7, 0.8, 0.9], None, None, "do not fall as the load grows"),
        ([50, 60, 0], [0.9, 0.8, 0.7], None, None, "Every load must be a number above 0"),
        ([50, 60, 70], [0.9, 0.8, np.nan], None, None, "Every speed must be a number above 0"),
        ([50, 60, 70], [0.9, 0.8, 0.7], ["a"] * 3, "b", "There are no sets of b"),
        ([50, 60, 70], [0.9, 0.8], None, None, "as many as there are sets"),
    ],
)
def test_sets_that_make_no_line_are_refused(
    loads: list[float],
    speeds: list[float],
    days: list[str] | None,
    of_day: str | None,
    said: str,
) -> None:
    with pytest.raises(ModelError, match=said):
        fit_line(loads, speeds, days, of_day)


def test_a_maximum_without_an_end_is_refused() -> None:
    line = fit_line([60, 62, 64, 66], [0.80, 0.83, 0.78, 0.79])
    with pytest.raises(ModelError, match="do not slow down clearly enough"):
        line.one_repetition_max(KNOWN)
    with pytest.raises(ModelError, match="never reaches 2 m/s with a load"):
        fit_line(LOADS, SPEEDS).load_at(2.0)


@pytest.mark.parametrize(
    ("speed", "share_pct"), [(0.25, 99.27), (0.50, 78.38), (0.75, 57.495), (1.00, 36.61)]
)
def test_the_published_parallel_squat(speed: float, share_pct: float) -> None:
    """Naclerio & Larumbe-Zabala; worked out by hand from the line in their abstract."""
    assert PARALLEL_SQUAT.share_pct(speed) == pytest.approx(share_pct, abs=5e-3)
    assert not PARALLEL_SQUAT.from_memory


# Speeds by share of the maximum, as the tables of both studies are commonly quoted; from memory.
QUOTED = [
    (
        BENCH_PRESS,
        range(30, 101, 5),
        "1.32 1.23 1.13 1.04 .95 .87 .78 .70 .62 .54 .47 .39 .32 .25 .18",
    ),
    (FULL_SQUAT, range(40, 101, 5), "1.28 1.21 1.14 1.07 1.00 .92 .84 .76 .68 .59 .51 .42 .32"),
]


@pytest.mark.parametrize(("line", "shares", "speeds"), QUOTED)
def test_lines_and_tables_from_memory_agree(line: object, shares: range, speeds: str) -> None:
    assert isinstance(line, type(BENCH_PRESS)) and line.from_memory
    found = [line.share_pct(float(speed)) for speed in speeds.split()]
    assert found == pytest.approx(list(shares), abs=2.5)


def test_a_published_line_is_not_read_beyond_its_speeds() -> None:
    with pytest.raises(ModelError, match="speeds of 0.2 to 1.2 m/s. Got 1.5"):
        PARALLEL_SQUAT.share_pct(1.5)
