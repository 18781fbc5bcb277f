"""The account's constants after a fit: learned, default, or without a visible effect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from modeling.curve.account import CONSTANTS, Constant
from modeling.estimate import Estimate, percent
from modeling.fit.shared import SharedEffects

__all__ = ["STATUSES", "KnownConstant", "known_constants", "level_effects"]

STATUSES = ("learned", "default", "no effect")

NORMAL_90 = 1.6449


@dataclass(frozen=True)
class KnownConstant:
    """One constant as a fit uses it.

    Attributes
    ----------
    constant : Constant
        The constant's definition.
    status : {"learned", "default", "no effect"}
        Learned from the squad; the default, where the squad's sessions say less than the prior;
        or no effect, where the whole interval is too small to make a difference.
    value : float
        The value in use; an infinite half-life never ends.
    low, high : float
        90 % interval if it is learned from the squad's sessions, else the range of the prior.
    """

    constant: Constant
    status: str
    value: float
    low: float
    high: float


def known_constants(shared: SharedEffects) -> tuple[KnownConstant, ...]:
    """List the constants in the order of `CONSTANTS`."""
    used = [
        c
        for c, makes_a_difference in zip(CONSTANTS, shared.constants, strict=True)
        if makes_a_difference
    ]
    place = {c.name: len(shared.marks) + i for i, c in enumerate(used) if shared.told[i]}
    return tuple(
        _learned(constant, shared, place[constant.name])
        if constant.name in place
        else _thought(constant, *beforehand)
        for constant, beforehand in zip(CONSTANTS, shared.beforehand, strict=True)
    )


def _thought(constant: Constant, mean: float, sd: float) -> KnownConstant:
    """Give the prior: our own with the range as documented, or the one from other clubs."""
    value, low, high = constant.default, constant.low, constant.high
    if (mean, sd) != (constant.inner(value), constant.sd):
        reach = NORMAL_90 * sd
        value = constant.outer(mean)
        low, high = sorted(
            constant.outer(max(end, constant.least_inner)) for end in (mean - reach, mean + reach)
        )
    return KnownConstant(constant, "default", value, low, high)


def level_effects(shared: SharedEffects) -> dict[str, Estimate]:
    """Give each effect on the level in %, by the name of its mark (`observations`)."""
    reach = NORMAL_90 * np.sqrt(np.diag(shared.covariance))
    found = ((mark, shared.value[i], reach[i]) for i, mark in enumerate(shared.marks))
    return {
        mark: Estimate(*(float(percent(each)) for each in (middle, middle - wide, middle + wide)))
        for mark, middle, wide in found
    }


def _learned(constant: Constant, shared: SharedEffects, place: int) -> KnownConstant:
    value, found = float(shared.value[place]), float(shared.found[place])
    reach = NORMAL_90 * float(np.sqrt(shared.covariance[place, place]))
    ends = sorted(
        constant.outer(max(each, constant.least_inner)) for each in (found - reach, found + reach)
    )
    small = abs(found) + reach <= constant.small_inner
    status = "no effect" if small else "learned"
    return KnownConstant(constant, status, constant.outer(value), *ends)
