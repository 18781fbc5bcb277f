"""Sums that do not depend on how their terms were divided into parts.

A fit takes so many rounds that a rounding error in the last digit would show in the end. So the
parts' answers are added with twice the digits, by Knuth's exact sum of two numbers, and rounded
once. The sum is then the same for any number of parts and any order of answers.

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
"""Number of athletes whose answers are collected before they are added."""

Told = TypeVar("Told", bound="Sums | FloatArray")


@dataclass(frozen=True)
class Sums:
    """Fields that are added one by one: arrays, or other `Sums`.

    It holds one athlete's answer, many athletes' answers with a first axis of athletes, or their
    sum. A field without an answer is None.
    """


def stacked(told: Sequence[Told]) -> Told:
    """Stack single athletes' answers along a first axis of athletes."""
    return _by_field(lambda *each: np.stack(each), told)


def added(stacks: Sequence[Told]) -> Told:
    """Add along the first axis, for further adding: a first axis has the sum and its remainder."""
    return _by_field(lambda *each: _exact(np.concatenate(each)), stacks)


def streamed(told: Iterable[Told]) -> Told:
    """Add up single athletes' answers, for further adding, with only a few in memory."""
    stacks, some = [], []
    for each in told:
        some.append(each)
        if len(some) == AT_ONCE:
            stacks.append(added([stacked(some)]))
            some = []
    return added(stacks + ([stacked(some)] if some else []))


def together(stacks: Sequence[Told]) -> Told:
    """Add along the first axis to a final sum."""
    return _by_field(lambda *each: _exact(np.concatenate(each))[0], stacks)


def _by_field(change: Callable[..., FloatArray], told: Sequence[Any]) -> Any:
    first = told[0]
    if isinstance(first, Sums):
        names = [each.name for each in fields(first)]
        return type(first)(*(_by_field(change, [getattr(t, n) for t in told]) for n in names))
    return None if first is None else change(*told)


def _exact(terms: FloatArray) -> FloatArray:
    """Sum of terms (n, ...), and its remainder below the last digit: (2, ...)."""
    total, rest = terms, np.zeros_like(terms)
    while len(total) > 1:
        if len(total) % 2:
            total, rest = (np.concatenate([each, 0.0 * each[:1]]) for each in (total, rest))
        total, left = _two_sum(total[::2], total[1::2])
        rest = rest[::2] + rest[1::2] + left
    return np.stack(_two_sum(total[0], rest[0]))


def _two_sum(one: FloatArray, other: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sum of two numbers, and its exact rounding error."""
    total = one + other
    of_other = total - one
    return total, (one - (total - of_other)) + (other - of_other)
