"""Sums are the same however the terms are dealt out."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from modeling.compute.places import dealt, in_order
from modeling.compute.sums import Sums, added, stacked, streamed, together

numbers = st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=80)


@dataclass(frozen=True)
class Told(Sums):
    weight: NDArray[np.float64]
    place: NDArray[np.float64] | None


@given(numbers, st.integers(1, 9))
def test_a_sum_of_parts_matches_the_exact_sum_rounded_once(terms: list[float], parts: int) -> None:
    told = [added([np.array(part)]) for part in dealt(terms, parts)]
    # Python's `fsum` keeps all digits.
    assert float(together(told)) == pytest.approx(fsum(terms), rel=1e-15, abs=1e-20)


def test_no_digit_depends_on_the_number_of_parts() -> None:
    rng = np.random.default_rng(1)
    weights = rng.standard_normal((1000, 3)) * np.exp(9.0 * rng.random((1000, 1)))
    told = [Told(weight, None) for weight in weights]
    sums = [
        together([streamed(part) for part in dealt(told, parts)]) for parts in (1, 2, 3, 16, 999)
    ]
    assert all(np.array_equal(each.weight, sums[0].weight) for each in sums)
    plain = [sum(weights[first::parts].sum() for first in range(parts)) for parts in (1, 2, 3)]
    assert len(set(plain)) > 1  # plain sums do depend on it


def test_fields_are_added_one_by_one_and_none_stays_none() -> None:
    one = Told(np.array(1.0), None)
    found = together([stacked([one, one, one])])
    assert float(found.weight) == 3.0 and found.place is None


def test_what_was_dealt_out_comes_back_in_order() -> None:
    for parts in (1, 2, 3, 7, 12):
        assert in_order(dealt(list(range(7)), parts)) == list(range(7))
