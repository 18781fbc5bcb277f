"""The one-repetition maximum, estimated from a set of more repetitions."""

from __future__ import annotations

import math
from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["FEWEST", "MOST", "RepetitionEstimate", "brzycki", "epley", "from_repetitions"]

FEWEST, MOST = 2, 10
"""Repetitions for which both formulas are useful. At 10 they agree; beyond it they diverge. Such
equations take no more than 10 (Reynolds et al. 2006, J Strength Cond Res 20:584-592, abstract)."""

EPLEY_REPETITIONS = 30.0
"""Epley 1985 (formula as quoted by several later sources; the original from memory)."""

BRZYCKI_REPETITIONS = 37.0
"""Brzycki 1993, JOPERD 64(1):88-90 (formula as quoted by several; the original from memory)."""


@dataclass(frozen=True)
class RepetitionEstimate:
    """Estimates by two formulas from one set, in the unit of its load.

    Attributes
    ----------
    low, high : float
        The lower (Brzycki) and the higher (Epley) estimate; equal at 10 repetitions. They are not
        an interval, as differences between people come on top: errors of 10.6 to 13.5 % in 27 men
        (Hutchins & Gearhart 2010, J Exerc Physiol Online 13(3):32-39, abstract).
    """

    low: float
    high: float


def epley(load: float, repetitions: int) -> float:
    """One-repetition maximum by Epley: load (1 + r / 30).

    Parameters
    ----------
    load : float
        Load of the set, above 0, in any unit.
    repetitions : int
        Most repetitions that were possible, 2 to 10.

    Raises
    ------
    ModelError
        The load or the repetitions are not allowed.
    """
    _check(load, repetitions)
    return load * (1.0 + repetitions / EPLEY_REPETITIONS)


def brzycki(load: float, repetitions: int) -> float:
    """One-repetition maximum by Brzycki: 36 load / (37 - r); arguments and errors as `epley`."""
    _check(load, repetitions)
    return load * (BRZYCKI_REPETITIONS - 1.0) / (BRZYCKI_REPETITIONS - repetitions)


def from_repetitions(load: float, repetitions: int) -> RepetitionEstimate:
    """Estimate a maximum by both formulas; arguments and errors as for `epley`.

    Examples
    --------
    >>> estimate = from_repetitions(100.0, 5)
    >>> round(estimate.low, 1), round(estimate.high, 1)
    (112.5, 116.7)
    """
    return RepetitionEstimate(brzycki(load, repetitions), epley(load, repetitions))


def _check(load: float, repetitions: int) -> None:
    if not (math.isfinite(load) and load > 0):
        raise ModelError(f"The load of a set must be a number above 0. Got {load}.")
    if not FEWEST <= repetitions <= MOST or repetitions != int(repetitions):
        raise ModelError(
            f"A maximum can be estimated from a set of {FEWEST} to {MOST} repetitions. Got "
            f"{repetitions}. Lift a load that allows that many, or give the maximum itself."
        )
