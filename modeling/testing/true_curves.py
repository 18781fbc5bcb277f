"""True curves of simulated athletes.

A truth gives a factor for every volume. There are five families, and the model contains none of
them exactly: a saturating rise less a linear fatigue, a plateau with a sharp break, a Ricker curve,
a power rise with a saturating fall, and no effect at all.
"""

from __future__ import annotations

import typing
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

__all__ = [
    "LOG_DROP",
    "SHAPES",
    "Change",
    "Maker",
    "Spread",
    "Truth",
    "plateau",
    "simulated_truths",
    "truth",
]

FloatArray = NDArray[np.float64]
Change = Callable[[FloatArray], FloatArray]
"""Log performance against the peak at an array of volumes."""
Maker = Callable[[float, float, float], Change]
"""Makes a curve from best volume, log gain and hold."""

LOG_DROP = -np.log(0.9)

NEGLIGIBLE = 0.01
FAR = np.linspace(0.0, 10_000.0, 2001)
"""A curve that changes by less than `NEGLIGIBLE` on this whole range is no response."""


@dataclass(frozen=True)
class Truth:
    """One athlete's true curve.

    Attributes
    ----------
    shape : str
        One of `SHAPES`.
    best_volume, gain, hold_volume : float
        Volume at the peak, log performance from cold to peak, volume from peak to 10 % down.
    level : float
        Value at the peak, on an average day.
    change : callable
        Log performance against the peak at an array of volumes (0 or negative).
    """

    shape: str
    best_volume: float
    gain: float
    hold_volume: float
    level: float
    change: Change

    def loss_pct(self, volume: float) -> float:
        """Give the performance lost at a volume, in % of the peak."""
        return float(-100.0 * np.expm1(self.change(np.array([volume]))[0]))

    def right_call(self, standard_volume: float, worthwhile_pct: float) -> str:
        """Give the right call: short, long or either."""
        if self.loss_pct(standard_volume) <= worthwhile_pct:
            return "either"
        return "short" if self.best_volume < standard_volume else "long"


@dataclass(frozen=True)
class Spread:
    """What a squad's athletes are like, and how far apart.

    Attributes
    ----------
    best, best_log_sd : float
        Median of best volumes, and standard deviation of their logs.
    gain : float
        Median log performance from cold to peak; its logs have a standard deviation of 0.5.
    """

    best: float = 14.0
    best_log_sd: float = 0.9
    gain: float = 0.07

    @property
    def settings(self) -> dict[str, typing.Any]:
        """Arguments for `simulated_truths`, with peaks and holds in proportion to `best`."""
        scale = self.best / 14.0
        around = {"reach": (2.0 * scale, 90.0 * scale), "least_hold": 6.0 * scale}
        return asdict(self) | around


def _saturating_less_linear(best: float, gain: float, hold: float) -> Change:
    # Rise a (1 - exp(-v/tau)) less b v, with the peak at `best` and 10 % down at best + hold.
    def fatigue(tau: float) -> float:
        return gain / (tau * np.expm1(best / tau) - best)

    def drop(log_tau: float) -> float:
        tau = float(np.exp(log_tau))
        b = fatigue(tau)
        a = b * tau * np.exp(best / tau)
        end = best + hold
        return a * (np.exp(-end / tau) - np.exp(-best / tau)) + b * hold - LOG_DROP

    low, high = np.log(best / 60.0), np.log(best * 20.0)
    if drop(low) * drop(high) < 0:
        tau = float(np.exp(brentq(drop, low, high)))
    else:
        tau = float(np.exp(low if abs(drop(low)) < abs(drop(high)) else high))
    b = fatigue(tau)
    a = b * tau * np.exp(best / tau)

    def change(v: FloatArray) -> FloatArray:
        return a * (np.exp(-best / tau) - np.exp(-v / tau)) - b * (v - best)

    return change


def plateau(half_width: float) -> Maker:
    """Make plateaus with a sharp break; the half-width is a share of their middle."""

    def made(best: float, gain: float, hold: float) -> Change:
        begin, end = (1.0 - half_width) * best, (1.0 + half_width) * best
        way_down = max(hold - half_width * best, 0.3 * hold)

        def change(v: FloatArray) -> FloatArray:
            rise = -gain * np.clip(1.0 - v / begin, 0.0, None)
            return rise - LOG_DROP * np.clip(v - end, 0.0, None) / way_down

        return change

    return made


def _ricker(best: float, gain: float, hold: float) -> Change:
    # gain * (x exp(1 - x) - 1) with x = v / best up to the peak, and another width after it.
    def bump(x: FloatArray) -> FloatArray:
        return x * np.exp(1.0 - x) - 1.0

    share = min(LOG_DROP / gain, 0.95)
    end = brentq(lambda x: 1.0 - x * np.exp(1.0 - x) - share, 1.0, 20.0)
    width = hold / (end - 1.0)
    scale = LOG_DROP / share

    def change(v: FloatArray) -> FloatArray:
        before = gain * bump(np.minimum(v / best, 1.0))
        after = scale * bump(1.0 + np.clip(v - best, 0.0, None) / width)
        return before + after

    return change


def _power_then_saturating_fall(best: float, gain: float, hold: float) -> Change:
    def change(v: FloatArray) -> FloatArray:
        rise = -gain * np.clip(1.0 - v / best, 0.0, None) ** 1.5
        past = np.clip(v - best, 0.0, None) / hold
        fall = -LOG_DROP * (-np.expm1(-1.2 * past)) / (-np.expm1(-1.2)) * (1.0 + 0.3 * past) / 1.3
        return rise + fall

    return change


def _no_effect(best: float, gain: float, hold: float) -> Change:
    return lambda v: np.zeros_like(np.asarray(v, dtype=float))


SHAPES: Mapping[str, Maker] = {
    "saturating less linear": _saturating_less_linear,
    "plateau with break": plateau(0.4),
    "Ricker": _ricker,
    "power, saturating fall": _power_then_saturating_fall,
    "no effect": _no_effect,
}


def truth(
    shape: str,
    best: float,
    gain: float,
    hold: float,
    level: float = 40.0,
    shapes: Mapping[str, Maker] = SHAPES,
) -> Truth:
    """Make a true curve from its shape (one of `shapes`), best volume, log gain, hold and level.

    A curve that hardly changes anywhere gets a gain of 0, as it has no real best volume.
    """
    change = shapes[shape](best, gain, hold)
    if change(FAR).min() > -NEGLIGIBLE:
        return Truth(shape, best, 0.0, np.inf, level, change)

    def above_drop(v: float) -> float:
        return float(change(np.array([v]))[0]) + LOG_DROP

    # Not every family can have exactly the wanted hold, so read the actual one.
    end = brentq(above_drop, best, best + 50.0 * hold)
    return Truth(shape, best, float(-change(np.array([0.0]))[0]), end - best, level, change)


def simulated_truths(
    shape: str,
    athletes: int,
    rng: np.random.Generator,
    *,
    best: float = 14.0,
    best_log_sd: float = 0.9,
    gain: float = 0.07,
    level: float = 40.0,
    level_log_sd: float = 0.12,
    shapes: Mapping[str, Maker] = SHAPES,
    reach: tuple[float, float] = (2.0, 90.0),
    least_hold: float = 6.0,
) -> list[Truth]:
    """Draw the true curves of a squad: log-normal peaks (within `reach`), gains and holds."""
    truths = []
    for _ in range(athletes):
        peak = float(np.clip(best * np.exp(best_log_sd * rng.standard_normal()), *reach))
        own_gain = gain * float(np.exp(0.5 * rng.standard_normal()))
        hold = (least_hold + peak) * float(np.exp(0.4 * rng.standard_normal()))
        own_level = level * float(np.exp(level_log_sd * rng.standard_normal()))
        truths.append(truth(shape, peak, own_gain, hold, own_level, shapes))
    return truths
