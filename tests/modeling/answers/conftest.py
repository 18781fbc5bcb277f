"""A small squad in all kinds of circumstances, and a model fitted to it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from modeling import ResponseModel
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests.benchmarks.predicted_shares import SURROUNDINGS


@pytest.fixture(scope="package")
def known() -> pd.DataFrame:
    rng = np.random.default_rng(1)
    truths = simulated_truths("Ricker", 7, rng)
    known = simulate_squad(truths, Protocol(1, 4), Noise(spoiled_share=0.03), rng, SURROUNDINGS)
    game = known["session"].str.endswith(("-02", "-04"))
    return known.assign(context=np.where(game, "game", "training"))


@pytest.fixture(scope="package")
def model(known: pd.DataFrame) -> ResponseModel:
    return ResponseModel(standard_volume=15).fit(known, known["value"])
