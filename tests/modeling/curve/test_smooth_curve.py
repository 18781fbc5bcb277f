"""The family of smooth curves, and how the efforts decide between families."""

from __future__ import annotations

import numpy as np
import pytest

import modeling.fit.engine
from modeling import ResponseModel
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.shapes import DataRange
from modeling.curve.smooth_curve import SmoothRiseAndFall
from modeling.efforts.cell_likelihood import curves_of_cells
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths

DATA = DataRange(lowest_volume=1.0, highest_volume=90.0, typical_volume=14.0, swing=0.3, noise=0.03)
FAMILY = SmoothRiseAndFall()


def fitted(shape: str, seed: int, athletes: int = 30) -> ResponseModel:
    rng = np.random.default_rng(seed)
    truths = simulated_truths(shape, athletes, rng)
    rows = simulate_squad(truths, Protocol(), Noise(), rng)
    return ResponseModel(standard_volume=15).fit(rows, rows["value"])


def test_every_cell_is_a_saturating_rise_less_a_linear_fatigue() -> None:
    # a (1 - exp(-v / t)) - h v has its peak where a / t exp(-best / t) = h.
    grid = FAMILY.grid(DATA)
    volume = np.array([0.0, 0.5, 3.0, 14.0, 40.0, 90.0])
    for cell in (0, 137, 600, 901, grid.cells_per_form - 1):
        best, bend, gain = np.exp(grid.coordinates[cell])
        tau = best / bend
        rise_less_fall = 1.0 - (1.0 + best / tau) * np.exp(-best / tau)
        a = gain / rise_less_fall
        fatigue = a / tau * np.exp(-best / tau)

        def told(v: float, a: float = a, tau: float = tau, fatigue: float = fatigue) -> float:
            return a * (1.0 - np.exp(-v / tau)) - fatigue * v

        expected = [told(v) - told(best) for v in volume]
        found = curves_of_cells(FAMILY, grid, np.array([cell]), volume)[:, 0]
        assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_squad_of_smooth_curves_is_told_from_one_of_sharper_ones(seed: int) -> None:
    # The first shape is this family but for its logs; Ricker curves belong to neither family.
    assert isinstance(fitted("saturating less linear", seed).family_, SmoothRiseAndFall)
    assert isinstance(fitted("Ricker", seed).family_, RiseAndFall)


def test_starting_with_some_athletes_leads_to_much_the_same_fit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = fitted("Ricker", 3)
    monkeypatch.setattr(modeling.fit.engine, "TRIAL_ATHLETES", 10)
    some = fitted("Ricker", 3)
    assert some.family_ == whole.family_
    pairs = [(some.responses_[code], each) for code, each in whole.responses_.items()]
    apart = [np.log(a.best_volume.median / b.best_volume.median) for a, b in pairs]
    assert np.mean(np.abs(apart)) < 0.05
    assert np.mean([abs(a.chance_short - b.chance_short) for a, b in pairs]) < 0.03
    noise = whole.fit_.learned.noise
    assert some.fit_.learned.noise.effort == pytest.approx(noise.effort, rel=0.02)


def test_what_was_learned_keeps_the_family() -> None:
    model = fitted("saturating less linear", 1, athletes=8)
    again = ResponseModel.from_learned(model.learned_json())
    assert again.family_ == model.family_ == again.fit_.settings.family
