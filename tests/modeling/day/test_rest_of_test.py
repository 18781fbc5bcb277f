"""What the rest of a running test is worth, against closed forms and scipy's normal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal, norm

from modeling import ModelError, ResponseModel
from modeling.day import rest_of_test as module
from modeling.day.rest_of_test import ENOUGH_PCT, rest_of_test
from modeling.testing import simulated_tests
from modeling.testing.simulated_tests import Begun, rest_of_fade
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests.modeling.day.test_next_test import DRAWS, EFFORT_SD, LOST_PCT, two_hypotheses


@pytest.fixture
def every_draw(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulated_tests, "TRUTHS", DRAWS)


@pytest.mark.parametrize("volumes", [[0.0], [0.0, 10.0, 20.0]])
def test_the_rest_of_a_test_is_worth_what_fewer_wrong_choices_save(
    every_draw: None, volumes: list[float]
) -> None:
    """The likelier of two normals is wrong with chance Phi(-d / 2), d their distance."""
    known = replace(two_hypotheses(), level_variance=0.03**2, session_variance=0.0, stop_share=0.01)
    logs, efforts = rest_of_fade(
        known, Begun(np.zeros(0), np.array(volumes)), np.random.default_rng(3)
    )
    apart = np.diff(known.curve.at(volumes)[:, :2], axis=1)[:, 0]
    covariance = 0.03**2 + EFFORT_SD**2 * np.eye(len(volumes))
    distance = np.sqrt(apart @ np.linalg.solve(covariance, apart))
    assert set(efforts) == {len(volumes)}
    assert known.worth(logs) == pytest.approx(LOST_PCT * (0.5 - norm.cdf(-distance / 2)), rel=0.1)


def test_the_rest_begins_where_the_stop_rule_stands(every_draw: None) -> None:
    """Two low efforts were made, so the next low one ends the test."""
    known = replace(two_hypotheses(), level_variance=0.0, session_variance=0.0)
    made = np.log([1.0, 0.8, 0.8])
    low = Begun(made, np.full(5, 20.0))
    held = replace(known, level=np.full(DRAWS, np.log(0.7)))
    assert set(rest_of_fade(held, low, np.random.default_rng(3))[1]) == {1}
    logs, efforts = rest_of_fade(known, replace(low, ahead=np.zeros(0)), np.random.default_rng(3))
    assert set(efforts) == {0} and known.worth(logs) == pytest.approx(0.0, abs=1e-12)


@pytest.fixture(scope="module")
def squad() -> tuple[ResponseModel, pd.DataFrame]:
    rng = np.random.default_rng(4)
    frame = simulate_squad(simulated_truths("Ricker", 8, rng), Protocol(1, 4), Noise(), rng)
    return ResponseModel(standard_volume=15).fit(frame, frame["value"]), frame


def running(
    squad: tuple[ResponseModel, pd.DataFrame], athlete: str, made: int, seed: int = 1
) -> pd.DataFrame:
    """Return an athlete's rows with the start of a new test, drawn from one of their curves."""
    model, frame = squad
    own = frame[frame["athlete"] == athlete]
    rng = np.random.default_rng(seed)
    level = float(np.log(own["value"]).mean())
    volume = np.arange(made, dtype=float)
    curve = model.sample_curves(athlete, volume, 100)[:, rng.integers(100)]
    value = np.exp(level + curve + 0.02 * rng.standard_normal(made))
    new = pd.DataFrame({"volume": volume, "value": value}).assign(
        athlete=athlete, session="running", day=float(own["day"].max()) + 7.0
    )
    return pd.concat([own, new], ignore_index=True)


def test_the_next_effort_is_expected_as_normal_theory_says(
    squad: tuple[ResponseModel, pd.DataFrame],
) -> None:
    """Given a curve, the next effort is the conditional normal of scipy's joint one."""
    model, _ = squad
    rows = running(squad, "A02", 5)
    known, begun = module._standing(model, rows, rows["value"], "running", 1)
    learned = model.fit_.learned
    noise = learned.noise
    volumes = np.append(known.in_effect(0.0, np.arange(5)), begun.ahead)
    shared = noise.day**2 + noise.drift**2 + noise.session_curve**2 + learned.level_sd**2
    for draw in (0, 250):
        mean = known.curve.at(volumes)[:, draw]
        joint = multivariate_normal(mean, shared + noise.effort**2 * np.eye(6))
        made = multivariate_normal(mean[:5], shared + noise.effort**2 * np.eye(5))
        grid = np.linspace(-1.0, 1.0, 4001)
        log_density = [joint.logpdf([*begun.value, x]) - made.logpdf(begun.value) for x in grid]
        density = np.exp(log_density) * (grid[1] - grid[0])
        expected = float(density @ grid)
        assert known.expected(begun.ahead)[0, draw] == pytest.approx(expected, abs=1e-4)
        variance = known.level_variance + noise.effort**2
        assert variance == pytest.approx(float(density @ (grid - expected) ** 2), rel=1e-3)


def test_the_longer_tests_run_the_less_their_rest_is_worth(
    squad: tuple[ResponseModel, pd.DataFrame],
) -> None:
    """This holds on average; a single surprise makes going on worth more."""
    model, _ = squad
    worths = []
    for made in (3, 12):
        tests = [running(squad, "A02", made, seed) for seed in range(10)]
        found = [rest_of_test(model, rows, rows["value"], "running") for rows in tests]
        worths.append(np.mean([each.worth_pct for each in found]))
        for each in found:
            assert each.is_enough == (each.worth_pct < ENOUGH_PCT)
            assert 0 <= each.efforts.low <= each.efforts.median <= each.efforts.high <= 120
    assert worths[0] > 1.5 * worths[1] >= 0.0, worths


def test_it_never_looks_beyond_what_is_allowed(squad: tuple[ResponseModel, pd.DataFrame]) -> None:
    model, _ = squad
    rows = running(squad, "A02", 6)
    few = rest_of_test(model, rows, rows["value"], "running", most_left=4)
    none = rest_of_test(model, rows, rows["value"], "running", most_left=0)
    assert few.efforts.high <= 4
    assert none.worth_pct == pytest.approx(0.0, abs=1e-12) and none.efforts.high == 0
    with pytest.raises(ModelError, match="There is no effort of session 'another'"):
        rest_of_test(model, rows, rows["value"], "another")


def test_the_stop_rule_of_the_protocol_counts(squad: tuple[ResponseModel, pd.DataFrame]) -> None:
    model, _ = squad
    rows = running(squad, "A02", 6)
    soon, late = (
        rest_of_test(model, rows, rows["value"], "running", in_a_row=count) for count in (1, 10)
    )
    assert soon.efforts.high < late.efforts.low


def test_times_are_treated_like_speeds(squad: tuple[ResponseModel, pd.DataFrame]) -> None:
    _, frame = squad
    times = frame.assign(value=100.0 / frame["value"])
    slow = ResponseModel(standard_volume=15, higher_is_better=False).fit(times, times["value"])
    fast = ResponseModel(standard_volume=15).fit(frame, frame["value"])
    rows = running(squad, "A02", 8)
    one = rest_of_test(fast, rows, rows["value"], "running")
    other = rest_of_test(slow, rows, 100.0 / rows["value"], "running")
    assert one.worth_pct == pytest.approx(other.worth_pct, rel=0.02)
    assert one.efforts == other.efforts
