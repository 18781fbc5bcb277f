"""What is reported of the account's constants, against the values put in."""

from __future__ import annotations

import numpy as np
import pytest

from modeling.answers.known_constants import known_constants, level_effects
from modeling.curve.account import CONSTANTS
from modeling.fit.shared import SharedEffects


def shared(
    value: list[float],
    found: list[float],
    sd: list[float],
    told: tuple[bool, bool] = (True, True),
) -> SharedEffects:
    """Return effects with one mark on the level, where general part and rest varied."""
    return SharedEffects(
        marks=("game",),
        constants=(True, True, False, False),
        varied=(1.0, 1.0),
        told=told,
        value=np.array([0.0, *value]),
        found=np.array([0.0, *found]),
        covariance=np.diag(np.square([1.0, *sd])),
    )


def test_a_learned_constant_has_the_interval_of_its_inner_scale() -> None:
    general, half_life, *_ = known_constants(shared([0.4, 0.05], [0.4, 0.05], [0.1, 0.01]))
    assert (general.status, general.value) == ("learned", 0.4)
    assert (general.low, general.high) == pytest.approx((0.4 - 0.16449, 0.4 + 0.16449))
    assert half_life.value == pytest.approx(20.0)
    assert half_life.low == pytest.approx(1 / (0.05 + 0.016449))
    assert half_life.high == pytest.approx(1 / (0.05 - 0.016449))


def test_a_constant_that_nobody_varied_keeps_its_default_and_range() -> None:
    per_degree = known_constants(shared([0.4, 0.05], [0.4, 0.05], [0.1, 0.01]))[2]
    told = CONSTANTS[2]
    assert (per_degree.status, per_degree.value) == ("default", told.default)
    assert (per_degree.low, per_degree.high) == (told.low, told.high)


def test_a_constant_the_sessions_hardly_inform_keeps_its_default_and_range() -> None:
    told = (True, False)
    general, half_life, *_ = known_constants(shared([0.4, 0.05], [0.4, 0.05], [0.1, 0.01], told))
    constant = CONSTANTS[1]
    assert (general.status, general.value) == ("learned", 0.4)
    assert (half_life.status, half_life.value) == ("default", constant.default)
    assert (half_life.low, half_life.high) == (constant.low, constant.high)


def test_no_effect_is_reported_only_if_the_interval_holds_none_that_matters() -> None:
    general, half_life, *_ = known_constants(shared([0.0, 0.0], [0.02, 0.001], [0.1, 0.01]))
    assert (general.status, general.value, general.low) == ("learned", 0.0, 0.0)
    assert general.high == pytest.approx(0.02 + 0.16449)
    assert (half_life.status, half_life.value, half_life.high) == ("learned", np.inf, np.inf)
    general, half_life, *_ = known_constants(shared([0.0, 0.0], [0.02, 0.001], [0.01, 0.002]))
    assert (general.status, half_life.status) == ("no effect", "no effect")


def test_an_effect_on_the_level_is_given_in_per_cent() -> None:
    effect = level_effects(shared([0.0, 0.0], [0.0, 0.0], [0.1, 0.01]))["game"]
    assert effect.median == 0.0
    assert (effect.low, effect.high) == pytest.approx(
        (100 * np.expm1(-1.6449), 100 * np.expm1(1.6449))
    )
