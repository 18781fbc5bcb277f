"""Simulated squads with known truth, to check the model and to make demonstrations.

Truths are drawn as a factor for every volume; five families, of which the model contains none
exactly: a saturating rise less a linear fatigue, a plateau with a sharp break, a Ricker curve,
a power rise with a saturating fall, and no effect at all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq

from modeling.account import Account, Circumstances, Work
from modeling.fade import fade_is_over

__all__ = [
    "SHAPES",
    "Noise",
    "Protocol",
    "Surroundings",
    "Truth",
    "fade_test",
    "routine_session",
    "simulate_squad",
    "simulated_truths",
    "truth",
    "volumes_in_effect",
]

FloatArray = NDArray[np.float64]

LOG_DROP = -np.log(0.9)


@dataclass(frozen=True)
class Truth:
    """One athlete's true curve.

    Attributes
    ----------
    shape : str
        One of `SHAPES`.
    best_volume, gain, hold_volume : float
        Where it peaks, log performance from cold to peak, volume from peak to 10 % down.
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
    change: Callable[[FloatArray], FloatArray]

    def loss_pct(self, volume: float) -> float:
        """Give the performance given away at a volume, in % of the peak."""
        return float(-100.0 * np.expm1(self.change(np.array([volume]))[0]))


def _saturating_less_linear(best: float, gain: float, hold: float) -> Callable[..., FloatArray]:
    # rise a (1 - exp(-v/tau)) less b v, with the peak at `best`, 10 % down at best + hold.
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


def _plateau_with_break(best: float, gain: float, hold: float) -> Callable[..., FloatArray]:
    def change(v: FloatArray) -> FloatArray:
        rise = -gain * np.clip(1.0 - v / (0.6 * best), 0.0, None)
        fall = -LOG_DROP * np.clip(v - 1.4 * best, 0.0, None) / max(hold - 0.4 * best, 0.3 * hold)
        return rise + fall

    return change


def _ricker(best: float, gain: float, hold: float) -> Callable[..., FloatArray]:
    # gain * (x exp(1 - x) - 1) with x = v / best up to the peak, its own width after it.
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


def _power_then_saturating_fall(best: float, gain: float, hold: float) -> Callable[..., FloatArray]:
    def change(v: FloatArray) -> FloatArray:
        rise = -gain * np.clip(1.0 - v / best, 0.0, None) ** 1.5
        past = np.clip(v - best, 0.0, None) / hold
        fall = -LOG_DROP * (-np.expm1(-1.2 * past)) / (-np.expm1(-1.2)) * (1.0 + 0.3 * past) / 1.3
        return rise + fall

    return change


def _no_effect(best: float, gain: float, hold: float) -> Callable[..., FloatArray]:
    return lambda v: np.zeros_like(np.asarray(v, dtype=float))


SHAPES: dict[str, Callable[[float, float, float], Callable[..., FloatArray]]] = {
    "saturating less linear": _saturating_less_linear,
    "plateau with break": _plateau_with_break,
    "Ricker": _ricker,
    "power, saturating fall": _power_then_saturating_fall,
    "no effect": _no_effect,
}


def truth(shape: str, best: float, gain: float, hold: float, level: float = 40.0) -> Truth:
    """Make a true curve from its shape, best volume, log gain, hold and level."""
    change = SHAPES[shape](best, gain, hold)
    if shape == "no effect":
        return Truth(shape, best, 0.0, np.inf, level, change)

    def above_drop(v: float) -> float:
        return float(change(np.array([v]))[0]) + LOG_DROP

    # Not every family can meet the wanted hold exactly, so read off the one it has.
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
) -> list[Truth]:
    """Draw the true curves of a squad: log-normal peaks (2 to 90), gains and holds."""
    truths = []
    for _ in range(athletes):
        peak = float(np.clip(best * np.exp(best_log_sd * rng.standard_normal()), 2.0, 90.0))
        own_gain = gain * float(np.exp(0.5 * rng.standard_normal()))
        hold = (6.0 + peak) * float(np.exp(0.4 * rng.standard_normal()))
        own_level = level * float(np.exp(level_log_sd * rng.standard_normal()))
        truths.append(truth(shape, peak, own_gain, hold, own_level))
    return truths


@dataclass(frozen=True)
class Noise:
    """Noise of simulated efforts.

    Attributes
    ----------
    effort, day : float
        Standard deviations on the log scale.
    spoiled_share : float
        Share of efforts that slip, 15 to 35 % down.
    """

    effort: float = 0.03
    day: float = 0.02
    spoiled_share: float = 0.0

    def of_efforts(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Draw the log noise of some efforts."""
        noise = self.effort * rng.standard_normal(count)
        spoiled = rng.random(count) < self.spoiled_share
        noise[spoiled] += np.log1p(-rng.uniform(0.15, 0.35, int(spoiled.sum())))
        return noise


def fade_test(
    athlete: Truth,
    noise: Noise,
    rng: np.random.Generator,
    most: int = 150,
    in_effect: Callable[[FloatArray], FloatArray] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Run a fade test to its stop rule: volumes before each effort, and values.

    `in_effect` says what volumes count for on the day; None that they count as they are.
    """
    volume = np.arange(most, dtype=float)
    value = routine_session(athlete, volume, noise, rng, in_effect)
    for done in range(1, most + 1):
        if fade_is_over(value[:done].tolist()):
            return volume[:done], value[:done]
    return volume, value


def routine_session(
    athlete: Truth,
    volume: FloatArray,
    noise: Noise,
    rng: np.random.Generator,
    in_effect: Callable[[FloatArray], FloatArray] | None = None,
) -> FloatArray:
    """Measure efforts after the given volumes on one day: their values."""
    day = noise.day * rng.standard_normal()
    counted = volume if in_effect is None else in_effect(volume)
    return athlete.level * np.exp(
        athlete.change(counted) + day + noise.of_efforts(len(volume), rng)
    )


@dataclass(frozen=True)
class Surroundings:
    """Circumstances that differ from session to session, and what they do.

    Attributes
    ----------
    account : Account
        What makes the volume in effect of what was done.
    draw : callable
        Draws a session's `Circumstances`.
    """

    account: Account
    draw: Callable[[np.random.Generator], Circumstances]


def volumes_in_effect(
    account: Account, around: Circumstances
) -> Callable[[FloatArray], FloatArray]:
    """Say what volumes count for in one session, all but the first made after the rest."""

    def in_effect(volume: FloatArray) -> FloatArray:
        before = np.full_like(volume, volume[0])
        return account.in_effect(Work.of(before, volume - before, around))

    return in_effect


@dataclass(frozen=True)
class Protocol:
    """How much data each athlete gets.

    Attributes
    ----------
    fade_tests, routine_sessions : int
        Numbers of each.
    standard : float
        The volume routine sessions are around.
    own_habit : bool
        Whether routine sessions are at the athlete's own habitual volume instead, which has
        nothing to do with the true peak.
    routine_efforts : int
        Efforts in a routine session.
    """

    fade_tests: int = 2
    routine_sessions: int = 12
    standard: float = 15.0
    own_habit: bool = False
    routine_efforts: int = 3


def simulate_squad(
    truths: list[Truth],
    protocol: Protocol,
    noise: Noise,
    rng: np.random.Generator,
    surroundings: Surroundings | None = None,
) -> pd.DataFrame:
    """Simulate all efforts of a squad.

    Returns
    -------
    DataFrame
        Columns athlete, session, kind, day, volume, value; a row per effort. With
        `surroundings` also general_minutes, rest_minutes, ambient_c and hour.
    """
    rows = []
    for number, athlete in enumerate(truths):
        habit = protocol.standard * float(np.exp(0.5 * rng.standard_normal()))
        kinds = ["fade"] * protocol.fade_tests + ["routine"] * protocol.routine_sessions
        for session, kind in enumerate(kinds):
            facts: dict[str, float] = {}
            in_effect = None
            if surroundings is not None:
                around = surroundings.draw(rng)
                facts = asdict(around)
                in_effect = volumes_in_effect(surroundings.account, around)
            if kind == "fade":
                volume, value = fade_test(athlete, noise, rng, in_effect=in_effect)
            else:
                centre = habit if protocol.own_habit else protocol.standard
                first = max(0, round(centre * float(np.exp(0.25 * rng.standard_normal()))))
                volume = first + np.arange(protocol.routine_efforts, dtype=float)
                value = routine_session(athlete, volume, noise, rng, in_effect)
            rows.append(
                pd.DataFrame(
                    {
                        "athlete": f"A{number + 1:02d}",
                        "session": f"A{number + 1:02d}-{session + 1:02d}",
                        "kind": kind,
                        "day": 7.0 * session,
                        "volume": volume,
                        "value": value,
                        **facts,
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)
