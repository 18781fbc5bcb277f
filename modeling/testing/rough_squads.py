"""Simulated squads with what real ones have and the model leaves out.

The departures can be used one at a time or together: athletes of different shapes, a best volume
that moves, noise that lasts, efforts that only fail downwards, values that rise while a test is
being learned, coarse readings, tests that end too soon.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import accumulate
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import log_ndtr

from modeling.testing.simulation import InEffect, Noise, Protocol, simulate_squad
from modeling.testing.true_curves import (
    LOG_DROP,
    SHAPES,
    Change,
    Maker,
    Spread,
    Truth,
    plateau,
    simulated_truths,
)

__all__ = [
    "FALLING_ON",
    "MIXED",
    "OTHERS",
    "MovingBest",
    "RoughNoise",
    "RoughSquad",
    "rough_squad",
]

FloatArray = NDArray[np.float64]

NO_RESPONSE = "no effect"

FALL_EXPONENT = 1.3
"""Exponent of falls that steepen instead of levelling off."""

LEARNING_HALVES = 1.0
"""Sessions it takes to learn half of what is left to learn about a test."""

LATEST_STOP = 0.6
"""A test that is stopped early is stopped by this share of its efforts."""

FEWEST_EFFORTS = 4
"""Fewest efforts of a test that is stopped early."""


def _falling_on(maker: Maker) -> Maker:
    """Keep the rise of a shape, and let its fall steepen instead of levelling off."""

    def made(best: float, gain: float, hold: float) -> Change:
        rise = maker(best, gain, hold)

        def change(v: FloatArray) -> FloatArray:
            past = np.clip(v - best, 0.0, None) / hold
            return rise(np.minimum(v, best)) - LOG_DROP * past**FALL_EXPONENT

        return change

    return made


def _barely_rising(best: float, gain: float, hold: float) -> Change:
    return lambda v: -0.005 * np.exp(-np.asarray(v, dtype=float) / 30.0)


MIXED: Mapping[str, Maker] = MappingProxyType(
    {name: maker for name, maker in SHAPES.items() if name != NO_RESPONSE}
)
"""All shapes of the simulation except no response."""

FALLING_ON: Mapping[str, Maker] = MappingProxyType(
    {
        **{name: MIXED[name] for name in ("saturating less linear", "plateau with break")},
        "Ricker, falling on": _falling_on(MIXED["Ricker"]),
        "power, falling on": _falling_on(MIXED["power, saturating fall"]),
    }
)
"""Shapes with falls that do not level off."""

OTHERS: Mapping[str, Maker] = MappingProxyType(
    {
        "broad plateau": plateau(0.6),
        NO_RESPONSE: SHAPES[NO_RESPONSE],
        "barely rising": _barely_rising,
    }
)
"""A plateau from 0.4 to 1.6 of its middle, nothing at all, and 0.5 % in one direction."""


@dataclass(frozen=True)
class RoughNoise(Noise):
    """Effort noise that is not independent, or not symmetric.

    Attributes
    ----------
    lasting : float
        Correlation of an effort's noise with that of the previous one (autoregressive).
    downwards : bool
        Whether efforts only fail downwards, by an exponential log loss with mean `effort`.
    wander : float
        Standard deviation of a session's random walk at its end.
    """

    lasting: float = 0.0
    downwards: bool = False
    wander: float = 0.0

    def unspoiled(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Draw the log noise of one session's efforts, in their order; none slips."""
        noise = rng.standard_normal(count)
        if self.lasting:
            new = np.sqrt(1.0 - self.lasting**2)
            noise = np.array(
                list(accumulate(noise, lambda last, own: self.lasting * last + new * own))
            )
        if self.downwards:
            noise = log_ndtr(noise)
        noise = self.effort * noise
        if self.wander:
            noise = noise + self.wander * np.cumsum(rng.standard_normal(count)) / np.sqrt(count)
        return noise


@dataclass(frozen=True)
class MovingBest:
    """Curves that stretch and shrink from session to session by a log-normal factor.

    An athlete's true best volume, hold and losses are those of the median session, whose factor
    is 1.
    """

    log_sd: float

    def of_session(self, rng: np.random.Generator) -> tuple[dict[str, float], InEffect]:
        """Draw one session; see `simulation.Days`."""
        factor = float(np.exp(self.log_sd * rng.standard_normal()))
        return {}, lambda volume: volume / factor


@dataclass(frozen=True)
class RoughSquad:
    """A squad to draw.

    Attributes
    ----------
    shapes : mapping of str to Maker
        Shapes of the athletes, in equal numbers.
    third : str
        Another shape for a third of the athletes: one of `OTHERS`; empty for none.
    athletes : int
    spread : Spread
        What the athletes are like.
    protocol : Protocol
    effort, day, lasting, downwards, wander
        Noise: see `RoughNoise`.
    best_log_sd : float
        How far best volume moves from session to session (log).
    learning : float
        Share by which values of a first session fall short; it halves with every session.
    read_to : float
        Unit that values are read to; 0 reads them exactly.
    stopped_early : bool
        Whether fade tests are stopped at random, anywhere up to `LATEST_STOP` of their efforts.
    """

    shapes: Mapping[str, Maker] = field(default_factory=lambda: MIXED)
    third: str = ""
    athletes: int = 30
    spread: Spread = Spread()
    protocol: Protocol = Protocol(fade_tests=2, routine_sessions=12)
    effort: float = 0.03
    day: float = 0.02
    lasting: float = 0.0
    downwards: bool = False
    wander: float = 0.0
    best_log_sd: float = 0.0
    learning: float = 0.0
    read_to: float = 0.0
    stopped_early: bool = False

    @property
    def noise(self) -> RoughNoise:
        """Noise of the squad's efforts."""
        return RoughNoise(
            self.effort,
            self.day,
            lasting=self.lasting,
            downwards=self.downwards,
            wander=self.wander,
        )


def rough_squad(squad: RoughSquad, rng: np.random.Generator) -> tuple[list[Truth], pd.DataFrame]:
    """Draw a squad's true curves and its efforts.

    Returns
    -------
    list of Truth
        Curves of the median session, in the order of the athletes' codes.
    DataFrame
        Columns athlete, session, kind, day, volume, value; a row per effort.
    """
    truths = _truths(squad, rng)
    moving = MovingBest(squad.best_log_sd) if squad.best_log_sd else None
    efforts = simulate_squad(truths, squad.protocol, squad.noise, rng, moving)
    if squad.stopped_early:
        efforts = _cut(efforts, rng)
    if squad.learning:
        before = efforts.groupby("athlete")["day"].rank("dense") - 1.0
        efforts["value"] *= 1.0 - squad.learning * 0.5 ** (before / LEARNING_HALVES)
    if squad.read_to:
        efforts["value"] = (efforts["value"] / squad.read_to).round() * squad.read_to
    return truths, efforts


def _truths(squad: RoughSquad, rng: np.random.Generator) -> list[Truth]:
    names = list(np.resize(list(squad.shapes), squad.athletes))
    if squad.third:
        names[::3] = [squad.third] * len(names[::3])
    shapes = {**squad.shapes, **OTHERS}
    return [
        simulated_truths(str(name), 1, rng, shapes=shapes, **squad.spread.settings)[0]
        for name in rng.permutation(names)
    ]


def _cut(efforts: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Drop the end of every fade test, from a random effort on."""
    session = efforts.groupby("session", sort=False)
    share = LATEST_STOP * rng.random(session.ngroups)[session.ngroup()]
    last = np.maximum(FEWEST_EFFORTS, np.ceil(share * session["value"].transform("size")))
    kept = (efforts["kind"] != "fade") | (session.cumcount() < last)
    return efforts[kept].reset_index(drop=True)
