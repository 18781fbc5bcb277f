"""Simulated squads with known truth, for checks of the model and for demonstrations."""

from __future__ import annotations

import typing
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling.curve.account import Account, Circumstances, Work
from modeling.testing.fade import fade_is_over
from modeling.testing.true_curves import SHAPES, Truth, simulated_truths, truth

__all__ = [
    "SHAPES",
    "Days",
    "InEffect",
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
InEffect = Callable[[FloatArray], FloatArray]
"""Gives the volumes in effect of volumes done on a day."""


@dataclass(frozen=True)
class Noise:
    """Noise of simulated efforts.

    Attributes
    ----------
    effort, day : float
        Standard deviations on the log scale.
    spoiled_share : float
        Share of efforts that slip, by 15 to 35 %.
    """

    effort: float = 0.03
    day: float = 0.02
    spoiled_share: float = 0.0

    def of_efforts(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Draw the log noise of one session's efforts, in their order."""
        noise = self.unspoiled(count, rng)
        spoiled = rng.random(count) < self.spoiled_share
        noise[spoiled] += np.log1p(-rng.uniform(0.15, 0.35, int(spoiled.sum())))
        return noise

    def unspoiled(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Draw the log noise of efforts without slips."""
        return self.effort * rng.standard_normal(count)


def fade_test(
    athlete: Truth,
    noise: Noise,
    rng: np.random.Generator,
    most: int = 150,
    in_effect: InEffect | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Run a fade test until its stop rule: volumes before each effort, and values.

    `in_effect` gives the volumes in effect on that day; with None they are the volumes done.
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
    in_effect: InEffect | None = None,
) -> FloatArray:
    """Give the values of efforts after the given volumes on one day."""
    day = noise.day * rng.standard_normal()
    counted = volume if in_effect is None else in_effect(volume)
    return athlete.level * np.exp(
        athlete.change(counted) + day + noise.of_efforts(len(volume), rng)
    )


@dataclass(frozen=True)
class Surroundings:
    """Circumstances that differ from session to session, and their effects.

    Attributes
    ----------
    account : Account
        Turns volumes done into volumes in effect.
    draw : callable
        Draws a session's `Circumstances`.
    """

    account: Account
    draw: Callable[[np.random.Generator], Circumstances]

    def of_session(self, rng: np.random.Generator) -> tuple[dict[str, float], InEffect]:
        """Draw one session; see `Days`."""
        around = self.draw(rng)
        return asdict(around), volumes_in_effect(self.account, around)


class Days(typing.Protocol):
    """What differs from session to session."""

    def of_session(self, rng: np.random.Generator) -> tuple[dict[str, float], InEffect]:
        """Draw one session: the facts that are written down, and its volumes in effect."""
        ...


def volumes_in_effect(account: Account, around: Circumstances) -> InEffect:
    """Give volumes in effect in one session; all but the first volume comes after the rest."""

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
        The volume that routine sessions are around.
    own_habit : bool
        Whether routine sessions are around the athlete's own habitual volume instead, which is
        unrelated to the true peak unless `habit_at_peak` is set.
    routine_efforts : int
        Efforts in a routine session.
    habit_at_peak : bool
        Whether that habit is drawn around the athlete's best volume, not the standard.
    """

    fade_tests: int = 2
    routine_sessions: int = 12
    standard: float = 15.0
    own_habit: bool = False
    routine_efforts: int = 3
    habit_at_peak: bool = False


def simulate_squad(
    truths: list[Truth],
    protocol: Protocol,
    noise: Noise,
    rng: np.random.Generator,
    surroundings: Days | None = None,
) -> pd.DataFrame:
    """Simulate all efforts of a squad.

    Returns
    -------
    DataFrame
        A row per effort, with columns athlete, session, kind, day, volume, value and the facts
        from `surroundings`.
    """
    # Pad the numbers, so that codes sort in the order of the truths.
    digits = max(2, len(str(len(truths))))
    sessions: list[dict[str, object]] = []
    efforts: list[tuple[FloatArray, FloatArray]] = []
    for number, athlete in enumerate(truths):
        around = athlete.best_volume if protocol.habit_at_peak else protocol.standard
        habit = around * float(np.exp(0.5 * rng.standard_normal()))
        kinds = ["fade"] * protocol.fade_tests + ["routine"] * protocol.routine_sessions
        for session, kind in enumerate(kinds):
            facts: dict[str, float] = {}
            in_effect = None
            if surroundings is not None:
                facts, in_effect = surroundings.of_session(rng)
            if kind == "fade":
                volume, value = fade_test(athlete, noise, rng, in_effect=in_effect)
            else:
                centre = habit if protocol.own_habit else protocol.standard
                first = max(0, round(centre * float(np.exp(0.25 * rng.standard_normal()))))
                volume = first + np.arange(protocol.routine_efforts, dtype=float)
                value = routine_session(athlete, volume, noise, rng, in_effect)
            code = f"A{number + 1:0{digits}d}"
            label = f"{code}-{session + 1:02d}"
            own = {"athlete": code, "session": label, "kind": kind, "day": 7.0 * session}
            sessions.append(own | facts)
            efforts.append((volume, value))
    told = pd.DataFrame(sessions)
    frame = told.loc[told.index.repeat([len(value) for _, value in efforts])]
    frame = frame.reset_index(drop=True)
    for place, name in enumerate(("volume", "value")):
        frame.insert(4 + place, name, np.concatenate([each[place] for each in efforts]))
    return frame
