"""The kinds of rough squads; each differs from the first only in what its name says.

The first has all shapes mixed, thirty athletes, two fade tests, twelve routine sessions and
ordinary noise. The changes in `PIECES` can be combined.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from zlib import crc32

import numpy as np
import pandas as pd

from modeling.testing.rough_squads import FALLING_ON, OTHERS, RoughSquad, rough_squad
from modeling.testing.simulation import Protocol, Truth
from tests.benchmarks.squads import OWN_FAMILY, PLENTY, ROWS, SHAPES, STANDARD, draw_squad

__all__ = ["BY_SESSIONS", "KINDS", "PIECES", "Kind", "PureKind", "combined", "named"]


@dataclass(frozen=True)
class Kind:
    """Squads of one kind.

    Attributes
    ----------
    name : str
    squad : RoughSquad
        How its squads are drawn.
    wanted_loss_pct : float
        The most performance that may be lost on average at the advised volume; NaN if not set.
    wanted_to_before : float
        The same as a share of what was lost before misfit was part of the model.
    least_held : float
        The lowest share of 90 % intervals that may hold the truth.
    squads : int
        Squads drawn for each seed.
    first_seed : int
        Where its seeds begin.
    weak : bool
        Whether volume has next to no effect.
    own_family : bool
        Whether its curves are of the full Bayesian peer's own family.
    stream : str
        Kinds of one stream draw the same true curves for a seed; empty means its own stream.
    """

    name: str
    squad: RoughSquad = field(default_factory=RoughSquad)
    wanted_loss_pct: float = float("nan")
    wanted_to_before: float = 1.0
    least_held: float = 0.85
    squads: int = 1
    first_seed: int = 0
    weak: bool = False
    own_family: bool = False
    stream: str = ""

    def draw(self, seed: int, part: int = 0) -> tuple[list[Truth], pd.DataFrame]:
        """Draw one of the squads of a seed, the same every time."""
        key = [self.first_seed + seed, part, crc32((self.stream or self.name).encode())]
        return rough_squad(self.squad, np.random.default_rng(key))


@dataclass(frozen=True)
class PureKind(Kind):
    """Squads of one shape each, in turn: the squads of a row of `accuracy`, from seed 1 on."""

    row: str = "plenty"
    shapes: tuple[str, ...] = tuple(shape for shape in SHAPES if shape != OWN_FAMILY)

    def draw(self, seed: int, part: int = 0) -> tuple[list[Truth], pd.DataFrame]:
        """Draw a squad; see `Kind.draw`."""
        turn, place = divmod(seed, len(self.shapes))
        return draw_squad(self.row, self.shapes[place], 1 + turn, self.squad.athletes)


PIECES: Mapping[str, Mapping[str, Any]] = {
    "falls that go on": {"shapes": FALLING_ON},
    "little": {"protocol": Protocol(1, 4, STANDARD)},
    "noisy": {"effort": 0.05, "day": 0.03},
    "moving": {"best_log_sd": 0.25},
    "lasting": {"lasting": 0.5},
    "downwards": {"downwards": True},
    "learning": {"learning": 0.06},
    "whole units": {"read_to": 1.0},
    "a third plateau": {"third": "broad plateau"},
    "a third no response": {"third": "no effect"},
    "stopped early": {"stopped_early": True},
    "low noise": {"effort": 0.015, "day": 0.01},
    "lowest noise": {"effort": 0.01, "day": 0.005},
    "habits follow": {"protocol": replace(ROWS["habit"].protocol, habit_at_peak=True)},
    "squads of 3": {"athletes": 3},
    "squads of 8": {"athletes": 8},
    "squads of 120": {"athletes": 120},
}
"""What each kind changes against the first, by name."""

WANTED: Mapping[str, tuple[float, float]] = {
    "mixed": (0.15, 0.159),
    "little": (0.16, 0.199),
    "noisy": (0.30, 0.335),
    "moving": (0.28, 0.365),
    "lasting": (0.22, 0.262),
    "downwards": (0.12, 0.135),
    "a third plateau": (0.10, 0.102),
}
"""Wanted losses, and what the model lost before misfit was part of it. That was on the squads that
the wanted losses were set for, which are drawn the same way but are not these squads."""

PURE_TO_BEFORE = 1.08
"""The most that may be lost where squads have one shape, as a multiple of what was lost before."""

PURE = {"habit": {"wanted_loss_pct": 1.0}}

COMBINATIONS = (
    ("moving", "lasting", "whole units"),
    ("downwards", "learning", "a third no response"),
    ("stopped early", "a third plateau", "lasting"),
    ("little", "moving", "falls that go on"),
    ("squads of 8", "noisy", "moving"),
    ("low noise", "lasting", "a third plateau"),
)

NEXT_TO_NONE = {
    "only drift": RoughSquad(
        shapes={"no effect": OTHERS["no effect"]},
        wander=0.03,
        protocol=Protocol(0, 3, standard=0.0, routine_efforts=60),
    ),
    "one direction": RoughSquad(
        shapes={"barely rising": OTHERS["barely rising"]},
        athletes=8,
        protocol=Protocol(0, 30, standard=0.0, routine_efforts=40),
    ),
}
"""Sessions from the first effort on, in which values hardly depend on volume or not at all."""

MANY_SMALL, SOME_SMALL = 5, 2
"""How many squads of three and of eight are drawn for each seed, as one of them says little."""


def combined(*pieces: str, **settings: Any) -> Kind:
    """Make a kind by combining some pieces, none of which may undo another."""
    changes: dict[str, Any] = {}
    for piece in pieces:
        if not changes.keys().isdisjoint(PIECES[piece]):
            raise ValueError(f"{piece} would undo another piece of {', '.join(pieces)}.")
        changes |= PIECES[piece]
    squad = RoughSquad(**changes)
    few = squad.athletes < 8
    standing = {
        "name": " + ".join(pieces),
        "least_held": 0.80 if few else 0.85,
        "squads": MANY_SMALL if few else SOME_SMALL if squad.athletes < 30 else 1,
    }
    return Kind(squad=squad, **standing | settings)


def _wanted(name: str) -> dict[str, float]:
    if name not in WANTED:
        return {}
    wanted, before = WANTED[name]
    return {"wanted_loss_pct": wanted, "wanted_to_before": wanted / before}


def named(*kinds: Kind) -> dict[str, Kind]:
    """Return kinds by their names."""
    return {kind.name: kind for kind in kinds}


KINDS: Mapping[str, Kind] = named(
    combined(name="mixed", **_wanted("mixed")),
    *(combined(piece, **_wanted(piece)) for piece in PIECES),
    *(combined(*pieces) for pieces in COMBINATIONS),
    *(Kind(name, squad, weak=True) for name, squad in NEXT_TO_NONE.items()),
    *(
        PureKind(f"pure, {row}", row=row, wanted_to_before=PURE_TO_BEFORE, **PURE.get(row, {}))
        for row in ROWS
    ),
    PureKind(
        f"pure, {OWN_FAMILY}",
        shapes=(OWN_FAMILY,),
        own_family=True,
        wanted_to_before=PURE_TO_BEFORE,
    ),
)
"""All kinds except those that are kept back."""

SESSIONS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30)
ONE_FADE_TEST_IN = 7


def _of_sessions(count: int) -> Kind:
    fade_tests = -(-count // ONE_FADE_TEST_IN)
    protocol = replace(PLENTY, fade_tests=fade_tests, routine_sessions=count - fade_tests)
    return Kind(f"{count} sessions", RoughSquad(protocol=protocol), stream="sessions")


BY_SESSIONS: Mapping[int, Kind] = {count: _of_sessions(count) for count in SESSIONS}
"""Mixed squads by each athlete's number of sessions; one in seven, rounded up, is a fade test."""
