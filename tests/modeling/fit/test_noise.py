"""One step in which a fit learns the sizes of the noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from modeling.efforts.session_model import NoiseSizes
from modeling.fit.noise import COMPONENTS, LARGEST_STEP, SizeScores, learn_sizes

FREE = dict.fromkeys(COMPONENTS, True)
BEFORE = NoiseSizes(effort=0.03, day=0.02, drift=0.01, session_curve=0.01)
FLOOR = 1e-3


def step(slope: float, before: NoiseSizes = BEFORE, free: dict[str, bool] = FREE) -> NoiseSizes:
    scores = SizeScores(np.full(4, slope), np.eye(4))
    return learn_sizes(scores, before, floor=FLOOR, free=free)


def variances(sizes: NoiseSizes) -> np.ndarray:
    return np.array([getattr(sizes, name) for name in COMPONENTS]) ** 2


@pytest.mark.parametrize(("slope", "factor"), [(-1e6, 1 / LARGEST_STEP), (1e6, LARGEST_STEP)])
def test_a_variance_moves_by_no_more_than_the_largest_step(slope: float, factor: float) -> None:
    assert variances(step(slope)) == pytest.approx(factor * variances(BEFORE))


def test_nearly_zero_becomes_zero_and_the_efforts_keep_the_floor() -> None:
    tiny = replace(BEFORE, effort=FLOOR, day=FLOOR, drift=FLOOR / 20, session_curve=FLOOR / 20)
    after = step(-1e6, tiny)
    assert (after.effort, after.day) == (pytest.approx(FLOOR), pytest.approx(FLOOR))
    assert (after.drift, after.session_curve) == (0.0, 0.0)


def test_zero_grows_again_from_a_share_of_the_efforts_noise() -> None:
    after = step(1e6, replace(BEFORE, drift=0.0))
    assert after.drift == pytest.approx(0.1 * BEFORE.effort)


def test_a_size_that_is_not_free_stays() -> None:
    after = step(-1e6, free=FREE | {"day": False})
    assert after.day == BEFORE.day and after.effort < BEFORE.effort


def test_correlated_sizes_go_to_the_top_of_their_quadratic() -> None:
    together = np.full((4, 4), 0.8) + 0.2 * np.eye(4)
    information = together / np.outer(variances(BEFORE), variances(BEFORE))
    move = variances(BEFORE) * [0.5, -0.4, 0.3, -0.2]
    pull = np.array([0.0, *np.full(3, 0.5 / (9.0 * BEFORE.effort**2))])
    scores = SizeScores(information @ move + pull, information)
    after = learn_sizes(scores, BEFORE, floor=FLOOR, free=FREE)
    # The top of a quadratic is where its slope, score - information x, is 0 (closed form).
    assert variances(after) == pytest.approx(variances(BEFORE) + move, rel=1e-4)
