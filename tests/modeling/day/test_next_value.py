"""What the next effort should be like, against simulated athletes and the demo squad."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

import demo_team
from modeling.day.next_value import (
    WIDTH,
    Before,
    OwnCurve,
    earlier_days,
    expected,
)

VOLUMES = np.linspace(0.0, 40.0, 41)
CHANGE = -0.15 * np.abs(VOLUMES - 12.0) / 28.0
CURVE = OwnCurve(VOLUMES, CHANGE, np.zeros(41), day_sd=0.02, effort_sd=0.03)
DEMO = Path(demo_team.__file__).parent


def drawn(random: np.random.Generator, curve: OwnCurve, days: int) -> list[tuple]:
    """Draw days of twelve efforts for one athlete, as the model describes them."""
    level = np.log(random.normal(40, 3))
    return [
        (
            VOLUMES[:12],
            np.exp(
                level
                + random.normal(0, curve.day_sd)
                + curve.change[:12]
                + random.normal(0, curve.effort_sd, 12)
            ),
        )
        for _ in range(days)
    ]


def test_the_interval_holds_efforts_as_often_as_it_says() -> None:
    """Divided by the interval's standard deviation, efforts are spread like a standard normal."""
    random, errors = np.random.default_rng(5), []
    for _ in range(300):
        *known, (volumes, values) = drawn(random, CURVE, 7)
        # Take the levels only, so that the athlete's own scatter does not widen the interval.
        levels = earlier_days(known, CURVE).levels
        for place in (0, 1, 4, 9):
            done = list(zip(volumes[:place], values[:place], strict=True))
            likely = expected(Before(levels, CURVE), done, volumes[place])
            assert likely is not None
            reach = np.log(likely.high / likely.middle)
            errors.append(WIDTH * np.log(values[place] / likely.middle) / reach)
    assert np.std(errors) == pytest.approx(1.0, abs=0.08)
    assert np.mean(np.abs(errors) < 1.645) == pytest.approx(0.9, abs=0.03)
    assert 2 * norm.sf(WIDTH) < 1e-4


def test_the_efforts_of_the_day_soon_outweigh_earlier_days() -> None:
    before = Before((np.log(50.0),) * 5, CURVE)
    fresh = expected(before, [], 12.0)
    assert fresh is not None and fresh.middle == pytest.approx(50.0)
    done = [(12.0, 40.0)] * 6
    later = expected(before, done, 12.0)
    assert later is not None
    assert 40.0 < later.middle < 44.0
    assert later.high / later.low < fresh.high / fresh.low


def test_one_slip_that_was_let_through_does_not_make_the_next_one_likely() -> None:
    before = Before((np.log(39.0),), CURVE)
    likely = expected(before, [(10.0, 39.0), (11.0, 39.5), (12.0, 93.6)], 13.0)
    assert likely is not None and likely.is_far(91.0, 39.5) and not likely.is_far(39.0, 93.6)


def test_two_efforts_that_agree_confirm_each_other() -> None:
    likely = expected(Before((np.log(40.0),), CURVE), [(12.0, 40.0), (13.0, 31.0)], 14.0)
    assert likely is not None
    assert likely.is_far(31.2, 40.0) and not likely.is_far(31.2, 31.0)


def test_without_a_curve_the_interval_is_a_share_of_recent_values() -> None:
    assert expected(Before(), [], 0.0) is None
    earlier = expected(earlier_days([(np.zeros(2), np.array([30.0, 30.0]))], None), [], 0.0)
    assert earlier is not None
    assert (earlier.low, earlier.high) == pytest.approx((30 / 1.3, 30 * 1.3))
    fading = [(float(place), value) for place, value in enumerate((41, 40, 38, 36, 34))]
    today = expected(Before(), fading, 5.0)
    assert today is not None
    assert (today.low, today.high) == pytest.approx((36 / 1.2, 36 * 1.2))


def test_an_athlete_who_scatters_more_is_asked_less_often() -> None:
    days = [(VOLUMES[:12], np.exp(CHANGE[:12] + np.tile([0.1, -0.1], 6))) for _ in range(3)]
    before = earlier_days(days, CURVE)
    assert before.curve is not None and before.curve.effort_sd == pytest.approx(0.148, abs=1e-3)


@pytest.mark.parametrize("file", ["jump_height.csv", "throw_speed.csv"])
def test_without_curves_we_ask_about_the_demo_squad_s_slips_and_little_else(
    file: str,
) -> None:
    rows = pd.read_csv(DEMO / file)
    rows["value"] = pd.to_numeric(rows["value"], errors="coerce")
    rows = rows.dropna(subset="value")
    asked, slips, missed = 0, 0, 0
    for _, own in rows.groupby("athlete"):
        days: list[tuple] = []
        for _, day in own.groupby("started_at"):
            values, before = day["value"].to_numpy(float), earlier_days(days, None)
            for place, value in enumerate(values):
                done = [(0.0, each) for each in values[:place]]
                likely = expected(before, done, 0.0)
                if likely is None:
                    continue
                last = values[place - 1] if place else None
                asked += likely.is_far(value, last)
                slips += 1
                # A decimal point lost or misplaced, a digit typed twice.
                missed += not all(likely.is_far(value * by, last) for by in (10.0, 0.1, 2.35))
            days.append((np.zeros(len(values)), values))
    assert asked <= 0.005 * slips
    assert missed <= 0.002 * slips
