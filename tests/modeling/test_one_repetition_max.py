"""Epley and Brzycki against the values printed for them, and where they must refuse."""

from __future__ import annotations

import pytest

from modeling.errors import ModelError
from modeling.lifting.one_repetition_max import brzycki, epley, from_repetitions

# Repetitions, Epley and Brzycki in % of the load: as printed in coaching tables.
PRINTED = [
    (2, 106.6667, 102.8571),
    (3, 110.0000, 105.8824),
    (5, 116.6667, 112.5000),
    (6, 120.0000, 116.1290),
    (8, 126.6667, 124.1379),
    (10, 133.3333, 133.3333),
]


@pytest.mark.parametrize(("repetitions", "by_epley", "by_brzycki"), PRINTED)
def test_printed_values(repetitions: int, by_epley: float, by_brzycki: float) -> None:
    assert epley(100.0, repetitions) == pytest.approx(by_epley, abs=5e-5)
    assert brzycki(100.0, repetitions) == pytest.approx(by_brzycki, abs=5e-5)
    both = from_repetitions(50.0, repetitions)
    assert (both.low, both.high) == pytest.approx((by_brzycki / 2, by_epley / 2), abs=5e-5)


@pytest.mark.parametrize("repetitions", [0, 1, 11, 37, 3.5])
def test_other_numbers_of_repetitions_are_refused(repetitions: int) -> None:
    with pytest.raises(ModelError, match=f"2 to 10 repetitions. Got {repetitions}"):
        epley(100.0, repetitions)
    with pytest.raises(ModelError, match="2 to 10 repetitions"):
        brzycki(100.0, repetitions)


@pytest.mark.parametrize("load", [0.0, -5.0, float("nan"), float("inf")])
def test_loads_that_are_none_are_refused(load: float) -> None:
    with pytest.raises(ModelError, match="must be a number above 0"):
        from_repetitions(load, 5)
