"""Squads that take turns, fitted with their pauses, without any, and with pauses ignored."""

from __future__ import annotations

from dataclasses import asdict, replace

import numpy as np
import pandas as pd
import pytest

from modeling import ResponseModel
from modeling.curve.account import Account, Work
from modeling.testing.simulation import (
    Noise,
    Protocol,
    Truth,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.account import drawn_circumstances

TRUE = Account(0.6, 15.0, 0.0, 0.0)
ASKED = 15.0
SEEDS = (4, 5, 6)
LONG = (0.0, 0.5, 1.0, 2.0)


class Turns:
    """Sessions whose efforts are `pauses` minutes further apart than the measure asks for."""

    def __init__(self, pauses: tuple[float, ...]) -> None:
        self.pauses = pauses

    def of_session(self, rng: np.random.Generator):
        around = replace(drawn_circumstances(rng), ambient_c=20.0, hour=16.0)
        pause = float(rng.choice(self.pauses))

        def in_effect(volume: np.ndarray) -> np.ndarray:
            before = np.full_like(volume, volume[0])
            work = Work.of(before, volume - before, around)
            return TRUE.in_effect(replace(work, pause=np.full_like(before, pause)))

        return asdict(around) | {"effort_rest_seconds": ASKED + 60.0 * pause}, in_effect


def squad(seed: int, pauses: tuple[float, ...]) -> tuple[pd.DataFrame, list[Truth]]:
    rng = np.random.default_rng(seed)
    truths = simulated_truths("saturating less linear", 16, rng)
    return simulate_squad(truths, Protocol(), Noise(), rng, Turns(pauses)), truths


def fitted(seed: int, pauses: tuple[float, ...], asked: float | None) -> ResponseModel:
    frame, _ = squad(seed, pauses)
    model = ResponseModel(standard_volume=15, effort_rest_seconds=asked)
    return model.fit(frame, frame["value"])


def off(models: list[ResponseModel]) -> float:
    """Return the root mean square error of the best volumes, as logs."""
    away = [
        np.log(found.best_volume.median / truth.best_volume)
        for seed, model in zip(SEEDS, models, strict=True)
        for found, truth in zip(model.responses_.values(), squad(seed, LONG)[1], strict=True)
    ]
    return float(np.sqrt(np.mean(np.square(away))))


def half_life(model: ResponseModel) -> tuple[float, float]:
    """Return the inverse of the half-life and its standard deviation."""
    shared = model.fit_.learned.shared
    place = len(shared.marks) + sum(shared.constants[:1])
    return float(shared.value[place]), float(np.sqrt(shared.covariance[place, place]))


@pytest.fixture(scope="module")
def known() -> list[ResponseModel]:
    return [fitted(seed, LONG, ASKED) for seed in SEEDS]


def test_known_pauses_do_not_make_the_fit_worse(known: list[ResponseModel]) -> None:
    without = [fitted(seed, (0.0,), ASKED) for seed in SEEDS]
    assert off(known) < 1.2 * off(without)
    here, there = (np.array([half_life(each) for each in fits]) for fits in (known, without))
    assert (abs(here[:, 0] - 1.0 / TRUE.half_life_minutes) < 2.5 * here[:, 1]).all()
    # Pauses inform the half-life too, on average; the data of one squad may happen to tell less.
    assert np.log(here[:, 1] / there[:, 1]).mean() < 0.0


def test_ignored_pauses_bend_the_curves(known: list[ResponseModel]) -> None:
    assert off([fitted(seed, LONG, None) for seed in SEEDS]) > 2.0 * off(known)


def test_a_session_is_folded_in_with_its_pauses(known: list[ResponseModel]) -> None:
    frame, _ = squad(SEEDS[0], LONG)
    own = frame[frame["athlete"] == "A04"]
    again = ResponseModel.from_learned(known[0].learned_json())
    folded = again.folded_posterior(own, own["value"])
    in_the_fit = known[0].posterior("A04")
    assert folded.rows is not None and in_the_fit.rows is not None
    assert in_the_fit.rows.work.pause.max() == 2.0
    assert folded.rows.volume == pytest.approx(in_the_fit.rows.volume)


def test_predictions_take_the_given_pauses_into_account(known: list[ResponseModel]) -> None:
    """Efforts that are far apart leave no more in effect than the first of them."""
    rows = pd.DataFrame(
        {
            "athlete": "A04",
            "session": ["a", "a", "b", "b"],
            "volume": [0.0, 12.0, 0.0, 1.0],
            "effort_rest_seconds": [3600.0, 3600.0, ASKED, ASKED],
            "general_minutes": 0.0,
        }
    )
    found = known[0].predict(rows)
    assert found[1] == pytest.approx(found[3], rel=0.01)
    passed_over = known[0].predict(rows.drop(columns="effort_rest_seconds"))
    assert passed_over[1] > 1.01 * found[1]
