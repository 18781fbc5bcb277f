"""Epley and Brzycki against fractions worked out by hand, and where they must refuse."""

from __future__ import annotations

from fractions import Fraction

import pytest

from modeling.errors import ModelError
from modeling.lifting.one_repetition_max import brzycki, epley, from_repetitions

# Repetitions, and the maximum as a share of the load: 1 + r / 30 and 36 / (37 - r), by hand.
BY_HAND = [
    (2, Fraction(16, 15), Fraction(36, 35)),
    (3, Fraction(11, 10), Fraction(18, 17)),
    (5, Fraction(7, 6), Fraction(9, 8)),
    (6, Fraction(6, 5), Fraction(36, 31)),
    (8, Fraction(19, 15), Fraction(36, 29)),
    (10, Fraction(4, 3), Fraction(4, 3)),
]


@pytest.mark.parametrize(("repetitions", "by_epley", "by_brzycki"), BY_HAND)
def test_values_by_hand(repetitions: int, by_epley: Fraction, by_brzycki: Fraction) -> None:
    assert epley(100.0, repetitions) == pytest.approx(float(100 * by_epley), rel=1e-12)
    assert brzycki(100.0, repetitions) == pytest.approx(float(100 * by_brzycki), rel=1e-12)
    both = from_repetitions(50.0, repetitions)
    assert (both.low, both.high) == pytest.approx((float(50 * by_brzycki), float(50 * by_epley)))


@pytest.mark.parametrize("repetitions", range(2, 11))
def test_the_forms_with_rounded_coefficients_agree_to_their_rounding(repetitions: int) -> None:
    """Both are mostly quoted as load (1 + 0.0333 r) and load / (1.0278 - 0.0278 r)."""
    assert epley(1.0, repetitions) == pytest.approx(1 + 0.0333 * repetitions, abs=5e-4)
    assert brzycki(1.0, repetitions) == pytest.approx(1 / (1.0278 - 0.0278 * repetitions), abs=5e-4)


@pytest.mark.parametrize("repetitions", [0, 1, 11, 37, 3.5])
def test_other_numbers_of_repetitions_are_refused(repetitions: int) -> None:
    with pytest.raises(ModelError, match=f"2 to 10 repetitions. Got {repetitions}"):
        epley(100.0, repetitions)
    with pytest.raises(ModelError, match="2 to 10 repetitions"):
        brzycki(100.0, repetitions)


@pytest.mark.parametrize("load", [0.0, -5.0, float("nan"), float("inf")])
def test_impossible_loads_are_refused(load: float) -> None:
    with pytest.raises(ModelError, match="must be a number above 0"):
        from_repetitions(load, 5)
