"""Waves, against brute force over every choice of lengths, and what must always hold."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from modeling import ModelError
from modeling.game.waves import groupings


def one_dip(rng: np.random.Generator, athletes: int, lengths: np.ndarray) -> np.ndarray:
    """Draw losses that fall to a best length and rise after it, each side with its own shape."""
    best = rng.uniform(lengths[0] - 1, lengths[-1] + 1, (athletes, 1))
    rise, fall = rng.uniform(0.1, 2.0, (2, athletes, 1))
    power = rng.uniform(0.5, 2.0, (athletes, 1))
    apart = lengths - best
    return np.where(apart < 0, rise * np.abs(apart) ** power, fall * np.abs(apart))


def cheapest(loss: np.ndarray, waves: int) -> float:
    """Return the mean loss of the best choice among all."""
    every = combinations(range(loss.shape[1]), min(waves, *loss.shape))
    return min(float(loss[:, list(chosen)].min(axis=1).mean()) for chosen in every)


@given(seed=st.integers(0, 2**32 - 1), dips=st.booleans())
@settings(max_examples=60, deadline=None)
def test_small_squads_are_grouped_as_brute_force_does(seed: int, dips: bool) -> None:
    rng = np.random.default_rng(seed)
    athletes, many = int(rng.integers(1, 8)), int(rng.integers(1, 12))
    lengths = np.cumsum(rng.uniform(0.5, 3.0, many))
    loss = rng.uniform(0, 1, (athletes, many)) if dips else one_dip(rng, athletes, lengths)
    found = groupings(loss, lengths, 4)
    assert len(found) == min(4, athletes, many)
    for waves, grouping in enumerate(found, start=1):
        assert grouping.exact
        assert grouping.loss_pct == pytest.approx(cheapest(loss, waves))
        assert len(grouping.volumes) <= waves
        assert sorted(set(grouping.wave.tolist())) == list(range(len(grouping.volumes)))
        chosen = np.searchsorted(lengths, grouping.volumes)
        joined = loss[np.arange(athletes), chosen[grouping.wave]]
        assert joined == pytest.approx(loss[:, chosen].min(axis=1))


def test_a_wave_for_everybody_costs_nothing_and_fewer_never_cost_less() -> None:
    lengths = np.arange(90.0)
    loss = one_dip(np.random.default_rng(3), 12, lengths)
    found = groupings(loss, lengths, 12)
    assert found[-1].cost_pct == pytest.approx(0.0)
    costs = [grouping.cost_pct for grouping in found]
    assert costs == sorted(costs, reverse=True) and costs[0] > costs[-1]


def test_many_choices_with_several_dips_come_close_and_are_not_called_exact() -> None:
    rng = np.random.default_rng(8)
    lengths = np.arange(45.0)
    wobble = 0.2 * rng.uniform(0, 1, (6, 45))
    loss = one_dip(rng, 6, lengths) + wobble
    grouping = groupings(loss, lengths, 4)[3]
    assert not grouping.exact
    assert grouping.loss_pct <= 1.1 * cheapest(loss, 4) + 1e-9


@pytest.mark.parametrize(
    ("loss", "most", "sentence"),
    [
        (np.empty((0, 3)), 1, "one athlete or more"),
        (np.ones((2, 2)), 1, "one athlete or more"),
        (np.ones((2, 3)), 0, "at least 1 wave. Got 0"),
        (np.full((2, 3), np.nan), 1, "every loss as a number"),
    ],
)
def test_losses_that_cannot_be_grouped_get_a_sentence(
    loss: np.ndarray, most: int, sentence: str
) -> None:
    with pytest.raises(ModelError, match=sentence):
        groupings(loss, np.arange(3.0), most)
