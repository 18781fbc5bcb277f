"""What a fit says of the account's constants: learned, default, or without a visible effect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from modeling.account import CONSTANTS, Constant
from modeling.estimate import Estimate, percent
from modeling.shared import SharedEffects

__all__ = ["STATUSES", "KnownConstant", "known_constants", "level_effects"]

STATUSES = ("learned", "default", "no effect")

NORMAL_90 = 1.6449


@dataclass(frozen=True)
class KnownConstant:
    """One constant as a fit uses it.

    Attributes
    ----------
    constant : Constant
        What it is.
    status : {"learned", "default", "no effect"}
        Learned from the squad; the default, where all sessions are alike in what it is about; or
        no effect seen where there could have been one.
    value : float
        What is used; infinite is a half-life without end.
    low, high : float
        90 % interval if the squad's sessions could tell, else the published range.
    """

    constant: Constant
    status: str
    value: float
    low: float
    high: float


def known_constants(shared: SharedEffects) -> tuple[KnownConstant, ...]:
    """List the constants in the order of `CONSTANTS`."""
    place = len(shared.marks)
    listed = []
    for constant, used in zip(CONSTANTS, shared.constants, strict=True):
        if not used:
            listed.append(
                KnownConstant(constant, "default", constant.default, constant.low, constant.high)
            )
            continue
        listed.append(_learned(constant, shared, place))
        place += 1
    return tuple(listed)


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
    status = "no effect" if value == 0.0 else "learned"
    return KnownConstant(constant, status, constant.outer(value), *ends)
