"""Sums that do not depend on how what is added was dealt out.

A fit repeats itself so often that a digit of rounding would show in the end. So what parts tell is
added with twice the digits, by Knuth's exact sum of two numbers, and rounded once: however many
parts there are, and whoever answers first, the sum is the same.

References
----------
Knuth (1997), The art of computer programming, vol. 2, 3rd ed., section 4.2.2, theorem B.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["Sums", "added", "stacked", "streamed", "together"]

FloatArray = NDArray[np.float64]
AT_ONCE = 64
"""Athletes whose answers are held before they are added."""

Told = TypeVar("Told", bound="Sums | FloatArray")


@dataclass(frozen=True)
class Sums:
    """Arrays and more of its kind that are added field by field.

    As what one athlete tells; as what many tell, with a first axis of athletes; or as the sum of
    these. A field of which nothing is told is None.
    """


def stacked(told: Sequence[Told]) -> Told:
    """Lay side by side what athletes tell one by one: with a first axis of athletes."""
    return _by_field(lambda *each: np.stack(each), told)


def added(stacks: Sequence[Told]) -> Told:
    """Add along the first axis, to be added further: a sum, and what it lacks, in a first axis."""
    return _by_field(lambda *each: _exact(np.concatenate(each)), stacks)


def streamed(told: Iterable[Told]) -> Told:
    """Add up what athletes tell one by one, to be added further, with few of them in memory."""
    stacks, some = [], []
    for each in told:
        some.append(each)
        if len(some) == AT_ONCE:
            stacks.append(added([stacked(some)]))
            some = []
    return added(stacks + ([stacked(some)] if some else []))


def together(stacks: Sequence[Told]) -> Told:
    """Add along the first axis."""
    return _by_field(lambda *each: _exact(np.concatenate(each))[0], stacks)


def _by_field(change: Callable[..., FloatArray], told: Sequence[Any]) -> Any:
    first = told[0]
    if isinstance(first, Sums):
        names = [each.name for each in fields(first)]
        return type(first)(*(_by_field(change, [getattr(t, n) for t in told]) for n in names))
    return None if first is None else change(*told)


def _exact(terms: FloatArray) -> FloatArray:
    """Sum of terms (n, ...), and what is left of it below its last digit: (2, ...)."""
    total, rest = terms, np.zeros_like(terms)
    while len(total) > 1:
        if len(total) % 2:
            total, rest = (np.concatenate([each, 0.0 * each[:1]]) for each in (total, rest))
        total, left = _two_sum(total[::2], total[1::2])
        rest = rest[::2] + rest[1::2] + left
    return np.stack(_two_sum(total[0], rest[0]))


def _two_sum(one: FloatArray, other: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sum of two numbers, and exactly what rounding took from it."""
    total = one + other
    of_other = total - one
    return total, (one - (total - of_other)) + (other - of_other)
