"""Kept back: true shapes, combinations and seeds for the last measurement only.

Do not read this module if you build or tune the model; run it once, when all is done
(`rough_squads --kept-back`). It was written before that work began. Results name kinds and shapes
by letters and numbers, so that a table gives nothing away.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from modeling.testing.rough_squads import MIXED, RoughSquad
from modeling.testing.simulation import Protocol
from modeling.testing.true_curves import LOG_DROP, Change, Maker
from tests.benchmarks.rough_kinds import Kind, combined, named

__all__ = ["KEPT_BACK", "KEPT_BACK_SHAPES"]

FloatArray = NDArray[np.float64]

FIRST_SEED = 7000
"""The first seed of squads with the shapes below."""

FIRST_SEED_OF_COMBINATIONS = 1000


def _sides(
    rise: Callable[[FloatArray], FloatArray], fall: Callable[[FloatArray], FloatArray]
) -> Maker:
    """Join a rise over the share of the way to the peak, and a fall over past / hold.

    `rise` goes from 1 at 0 to 0 at 1, in units of the gain; `fall` starts at 0, in units of the
    10 %.
    """

    def made(best: float, gain: float, hold: float) -> Change:
        def change(v: FloatArray) -> FloatArray:
            volume = np.asarray(v, dtype=float)
            way = np.clip(volume / best, 0.0, 1.0)
            past = np.clip(volume - best, 0.0, None) / hold
            return -gain * rise(way) - LOG_DROP * fall(past)

        return change

    return made


def _threshold_rise(way: FloatArray) -> FloatArray:
    # Nothing in the first third, then an S to the peak: a joint that has to get warm first.
    middle, steepness = 0.55, 11.0
    ends = 1.0 / (1.0 + np.exp(-steepness * (np.array([0.0, 1.0]) - middle)))
    here = 1.0 / (1.0 + np.exp(-steepness * (way - middle)))
    return (ends[1] - here) / (ends[1] - ends[0])


def _late_collapse(past: FloatArray) -> FloatArray:
    # It holds well, then gives way within a short stretch and levels off far below.
    def s(x: FloatArray) -> FloatArray:
        return 1.0 / (1.0 + np.exp(-7.0 * (x - 0.85)))

    none = s(np.zeros(1))
    return (s(past) - none) / (s(np.ones(1)) - none) + 0.15 * past**2


def _dip_then_rise(way: FloatArray) -> FloatArray:
    # The first efforts tire before they prime: worst at a fifth of the way.
    def dip(x: FloatArray | float) -> FloatArray:
        return np.asarray(0.4 * (x / 0.2) * np.exp(1.0 - x / 0.2))

    return 1.0 - way**1.2 + dip(way) - dip(1.0) * way


def _fast_then_slow(past: FloatArray) -> FloatArray:
    # A quick loss of a third of the 10 %, then a long slow slope.
    quick = -np.expm1(-past / 0.08)
    return 0.35 * quick + 0.65 * past


def _two_step_rise(way: FloatArray) -> FloatArray:
    # Two fifths of the rise come in the first quarter; after a pause, the rest at the end.
    first = (np.exp(-way / 0.1) - np.exp(-10.0)) / -np.expm1(-10.0)
    left = np.clip((1.0 - way) / 0.4, 0.0, 1.0)
    return 0.4 * first + 0.6 * left**2 * (3.0 - 2.0 * left)


def _second_wind(past: FloatArray) -> FloatArray:
    # Down by a quarter of the 10 %, up again by half of that, then down for good.
    def hump(x: FloatArray | float) -> FloatArray:
        return np.asarray(0.22 * np.exp(-0.5 * ((x - 0.32) / 0.12) ** 2))

    start = hump(0.0) * np.exp(-past / 0.1)
    return hump(past) - start + 0.06 * past + 0.94 * past**2.5


def _log_sides(best: float, gain: float, hold: float) -> Change:
    # Equal steps for every doubling up to the peak, a corner there, then a bell on a log axis.
    scale = best / 60.0
    above = float(np.log1p(hold / best))

    def change(v: FloatArray) -> FloatArray:
        volume = np.asarray(v, dtype=float)
        risen = np.log1p(np.minimum(volume, best) / scale) / np.log1p(60.0)
        fallen = np.log(np.maximum(volume, best) / best) / above
        return -gain * (1.0 - risen) - LOG_DROP * fallen**2

    return change


KEPT_BACK_SHAPES: Mapping[str, Maker] = MappingProxyType(
    {
        "kept back A": _sides(_threshold_rise, _late_collapse),
        "kept back B": _sides(_dip_then_rise, _fast_then_slow),
        "kept back C": _sides(_two_step_rise, _second_wind),
        "kept back D": _log_sides,
    }
)


def _kind(name: str, squad: RoughSquad) -> Kind:
    return Kind(name, squad, first_seed=FIRST_SEED)


ALL = RoughSquad(shapes=KEPT_BACK_SHAPES)
AMONG_OTHERS = RoughSquad(shapes=MappingProxyType({**MIXED, **KEPT_BACK_SHAPES}))
COMBINATIONS = (
    ("moving", "learning", "whole units"),
    ("little", "downwards", "lasting"),
    ("low noise", "moving", "a third no response"),
)

KEPT_BACK: Mapping[str, Kind] = named(
    *(
        _kind(name, RoughSquad(shapes=MappingProxyType({name: maker})))
        for name, maker in KEPT_BACK_SHAPES.items()
    ),
    _kind("kept back 1", ALL),
    _kind("kept back 2", AMONG_OTHERS),
    _kind("kept back 3", replace(AMONG_OTHERS, protocol=Protocol(1, 4))),
    _kind("kept back 4", replace(ALL, effort=0.015, day=0.01)),
    _kind("kept back 5", replace(AMONG_OTHERS, best_log_sd=0.25, lasting=0.5)),
    *(
        combined(*pieces, name=f"kept back {number}", first_seed=FIRST_SEED_OF_COMBINATIONS)
        for number, pieces in enumerate(COMBINATIONS, start=6)
    ),
)
"""Kinds with these shapes, alone, together and among the others, and combinations."""
