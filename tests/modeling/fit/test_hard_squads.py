"""Whatever a club's files hold, a fit ends and every number it shows makes sense.

`tests.benchmarks.hard_squads` tries thousands more.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings

from modeling import ResponseModel
from tests.modeling.hard_squads import (
    HARDSHIPS,
    HardSquad,
    any_hard_squad,
    hard_squad,
    hard_squads,
    many_efforts,
    with_another_session,
)
from tests.modeling.shown_numbers import faults_of_fold, faults_of_model

ROUNDS = 4
NAMES = list(HARDSHIPS)


def cases() -> list[tuple[int, tuple[str, ...], int]]:
    """List each hardship alone, then with one, two and three others, then all together."""
    found = []
    for others in range(ROUNDS):
        for place, name in enumerate(NAMES):
            rng = np.random.default_rng([others, place])
            more = rng.permutation([each for each in NAMES if each != name])[:others]
            found.append((len(found), (name, *more.tolist()), int(rng.integers(1, 7))))
    together = [(len(found) + n, tuple(reversed(NAMES)), 2 + 3 * n) for n in range(4)]
    return found + together


def faults(squad: HardSquad, seed: int) -> list[str]:
    model = ResponseModel(**squad.parameters).fit(squad.rows, squad.rows["value"])
    folded = with_another_session(squad.rows, seed)
    return faults_of_model(model, squad.rows) + faults_of_fold(model, folded)


@pytest.mark.parametrize(
    "case", cases(), ids=lambda case: f"{case[0]}: {case[2]} athletes, {', '.join(case[1])}"
)
def test_a_hard_squad_is_fitted(
    case: tuple[int, tuple[str, ...], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Thousands of efforts are fitted only if nothing else is hard; otherwise hundreds."""
    seed, hardships, athletes = case
    if len(hardships) > 1:
        hundreds = partial(many_efforts, most=600)
        monkeypatch.setitem(HARDSHIPS, "thousands of efforts", hundreds)
    assert faults(hard_squad(seed, hardships, athletes), seed) == []


def test_a_gain_too_large_for_a_float_is_finite() -> None:
    """The benchmark found this: one athlete's drawn gain was e to the power of 700 and more."""
    assert faults(any_hard_squad(10_519), 10_519) == []


def test_a_prediction_too_large_for_a_float_is_finite() -> None:
    """The benchmark found this where units were mixed up: e to the power of 1,331."""
    assert faults(any_hard_squad(11_823), 11_823) == []


@settings(max_examples=8, deadline=None, derandomize=True)
@given(hard_squads(most_athletes=3))
def test_any_small_hard_squad_is_fitted(squad: HardSquad) -> None:
    assert faults(squad, 0) == []


def test_a_curve_that_the_efforts_rule_out_does_not_move_the_level() -> None:
    """One of 500 drawn curves rose by e^295,801, and a fold's predictions rose with it."""
    assert faults(any_hard_squad(11_560), 11_560) == []
