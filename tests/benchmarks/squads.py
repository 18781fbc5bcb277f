"""The simulated squads of the benchmarks: five amounts of data, six true shapes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import brentq

from modeling.testing.simulation import SHAPES as SIMULATED_SHAPES
from modeling.testing.simulation import Noise, Protocol, Truth, simulate_squad, simulated_truths
from tests.benchmarks import rise_and_fall

__all__ = [
    "OWN_FAMILY",
    "ROWS",
    "SHAPES",
    "STANDARD",
    "WORTHWHILE_PCT",
    "Row",
    "draw_squad",
    "population_log_sd",
]

STANDARD = 15.0
"""The team's standard volume, in efforts."""

WORTHWHILE_PCT = 1.0
"""Smallest worthwhile change, in %."""

LOG_DROP = -np.log(0.9)
BEST, BEST_LOG_SD, BEST_RANGE = 14.0, 0.9, (2.0, 90.0)

OWN_FAMILY = "rise and fall"
"""The shape of the full Bayesian peer's own family, normal in the curve's coordinates."""

SHAPES = (*SIMULATED_SHAPES, OWN_FAMILY)


@dataclass(frozen=True)
class Row:
    """An amount and quality of data.

    Attributes
    ----------
    title : str
    protocol : Protocol
    noise : Noise
    wanted_loss_pct : float
        The most performance that may be lost on average at the advised volume.
    """

    title: str
    protocol: Protocol
    noise: Noise
    wanted_loss_pct: float


PLENTY = Protocol(fade_tests=2, routine_sessions=12, standard=STANDARD)

ROWS = {
    "plenty": Row("2 fade tests + 12 routine sessions", PLENTY, Noise(), 0.15),
    "little": Row("1 fade test + 4 routine sessions", Protocol(1, 4, STANDARD), Noise(), 0.20),
    "habit": Row(
        "20 routine sessions at the own habit", Protocol(0, 20, STANDARD, True), Noise(), 0.90
    ),
    "noisy": Row("as the first, effort 5 %, day 3 %", PLENTY, Noise(0.05, 0.03), 0.35),
    "spoiled": Row("as the first, 5 % of efforts spoiled", PLENTY, Noise(spoiled_share=0.05), 0.20),
}


def draw_squad(
    row: str, shape: str, seed: int, athletes: int = 30
) -> tuple[list[Truth], pd.DataFrame]:
    """Draw a squad's true curves and simulate its efforts; all rows share a seed's true curves."""
    place = SHAPES.index(shape)
    rng = np.random.default_rng([seed, place])
    if shape == OWN_FAMILY:
        truths = [_own_family_truth(rng) for _ in range(athletes)]
    else:
        truths = simulated_truths(shape, athletes, rng, best=BEST, best_log_sd=BEST_LOG_SD)
    noise_rng = np.random.default_rng([seed, place, list(ROWS).index(row)])
    return truths, simulate_squad(truths, ROWS[row].protocol, ROWS[row].noise, noise_rng)


def population_log_sd(shape: str) -> float:
    """Return the spread of log best volume in the population that a shape's squads come from."""
    if shape == OWN_FAMILY:
        return BEST_LOG_SD
    drawn = np.log(BEST) + BEST_LOG_SD * np.random.default_rng(0).standard_normal(400_000)
    return float(np.clip(drawn, *np.log(BEST_RANGE)).std())


def _own_family_truth(rng: np.random.Generator) -> Truth:
    log_best, log_gain, log_bend, log_level = rng.normal(
        [np.log(BEST), np.log(0.07), np.log(2.0), np.log(40.0)], [BEST_LOG_SD, 0.5, 0.6, 0.12]
    )

    def change(volume: np.ndarray) -> np.ndarray:
        return rise_and_fall.change(np.asarray(volume, float), log_best, log_gain, log_bend)

    def above_drop(volume: float) -> float:
        return float(change(np.array([volume]))[0]) + LOG_DROP

    best, gain = float(np.exp(log_best)), float(np.exp(log_gain))
    # A rise that is over at once comes with next to no fall, so the end may be very far.
    far = 1e4 * best
    while above_drop(far) > 0:
        far *= 10.0
    end = brentq(above_drop, best, far)
    return Truth(OWN_FAMILY, best, gain, end - best, float(np.exp(log_level)), change)
