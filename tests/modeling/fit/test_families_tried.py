"""The squads that are fitted with more than one family of curves."""

from __future__ import annotations

import numpy as np
import pytest

from modeling.curve.rise_and_fall import RiseAndFall
from modeling.efforts.observations import AthleteRows, arrange
from modeling.fit.engine import FEWEST_ATHLETES, fit_squad
from modeling.fit.squad_fit import EngineSettings
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths


class Tried(Exception):
    pass


class Unwanted:
    """A family that raises `Tried` as soon as it is asked for anything."""

    def __getattr__(self, name: str) -> object:
        raise Tried(name)


def rows_of(athletes: int) -> list[AthleteRows]:
    rng = np.random.default_rng(4)
    truths = simulated_truths("Ricker", athletes, rng)
    squad = simulate_squad(truths, Protocol(1, 2), Noise(), rng)
    return arrange(squad, squad["value"])


SETTINGS = EngineSettings(family=RiseAndFall(), rounds=1, shared=False)


def test_few_athletes_are_fitted_with_the_freer_family_only() -> None:
    fit = fit_squad(rows_of(FEWEST_ATHLETES - 1), SETTINGS, others=[Unwanted()])
    assert fit.settings.family == SETTINGS.family


def test_enough_athletes_are_fitted_with_others_as_well() -> None:
    with pytest.raises(Tried):
        fit_squad(rows_of(FEWEST_ATHLETES), SETTINGS, others=[Unwanted()])
