"""Squads that are hard to fit: the worst that a club's files may hold, drawn from a seed.

Every squad starts as a simulated one. Each kind of hardship then changes its rows, within what the
store accepts. The tests fit a few small ones; `tests.benchmarks.hard_squads` fits thousands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import strategies as st

from modeling.curve.account import Account
from modeling.testing.simulation import (
    SHAPES,
    Noise,
    Protocol,
    Surroundings,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.account import drawn_circumstances

__all__ = [
    "any_hard_squad",
    "with_another_session",
    "HARDSHIPS",
    "MOST_ATHLETES",
    "HardSquad",
    "many_efforts",
    "drawn_hardships",
    "hard_squad",
    "hard_squads",
]

Rng = np.random.Generator

MOST_ATHLETES = 40
MOST_VOLUME = 10_000.0
"""The largest volume that the store accepts."""

CM_PER_INCH = 2.54

ANOTHER = 10**6
"""Added to a squad's seed, it gives the seed of the athlete whose session is folded in."""


@dataclass(frozen=True)
class HardSquad:
    """Efforts that are hard to fit, and the parameters to fit them with.

    Attributes
    ----------
    hardships : tuple of str
        What makes them hard: names from `HARDSHIPS`.
    rows : DataFrame
        Columns athlete, session, kind, day, volume, value, context and the facts of a session;
        a row per effort.
    parameters : mapping
        Parameters of the `ResponseModel`.
    """

    hardships: tuple[str, ...]
    rows: pd.DataFrame = field(repr=False)
    parameters: Mapping[str, Any]


def hard_squad(seed: int, hardships: tuple[str, ...], athletes: int) -> HardSquad:
    """Draw the efforts of some athletes, then let each hardship change them in turn."""
    rng = np.random.default_rng(seed)
    rows = _plain(athletes, rng)
    for name in hardships:
        rows = HARDSHIPS[name](rows, rng).reset_index(drop=True)
    rows = rows.assign(volume=rows["volume"].clip(0.0, MOST_VOLUME))
    tried = float(rows["volume"].median())
    parameters = {
        "standard_volume": [None, 15.0, tried, 0.0, MOST_VOLUME][rng.choice(5, p=_USUALLY)],
        "worthwhile_pct": float(rng.choice([0.1, 1.0, 1.5, 20.0])),
        "higher_is_better": bool(rng.random() < 0.7),
    }
    return HardSquad(hardships, rows, parameters)


_USUALLY = [0.2, 0.4, 0.3, 0.05, 0.05]


def drawn_hardships(rng: Rng) -> tuple[str, ...]:
    """Draw the hardships to combine: one, a few or all of them."""
    names = list(HARDSHIPS)
    count = len(names) if rng.random() < 0.1 else int(rng.integers(1, 5))
    return tuple(rng.permutation(names)[:count].tolist())


def any_hard_squad(seed: int) -> HardSquad:
    """Draw a squad of any size, small ones more often, with one or more hardships."""
    rng = np.random.default_rng([seed, 1])
    hardships = drawn_hardships(rng)
    return hard_squad(seed, hardships, round(np.exp(rng.uniform(0.0, np.log(MOST_ATHLETES)))))


def with_another_session(rows: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Return the last athlete's rows with one more session, taken from another hard athlete."""
    own = rows[rows["athlete"] == rows["athlete"].iloc[-1]]
    hardships = drawn_hardships(np.random.default_rng([seed, 2]))
    other = hard_squad(seed + ANOTHER, hardships, 1).rows
    more = other[other["session"] == other["session"].iloc[-1]].head(60)
    day = float(own["day"].max()) + 1.0
    more = more.assign(athlete=own["athlete"].iloc[0], session="another", day=day)
    return pd.concat([own, more], ignore_index=True)


@st.composite
def hard_squads(draw: st.DrawFn, most_athletes: int = MOST_ATHLETES) -> HardSquad:
    """Draw a squad that hypothesis can shrink: fewer athletes, fewer hardships."""
    names = st.lists(st.sampled_from(list(HARDSHIPS)), unique=True, max_size=4)
    hardships = tuple(draw(names))
    return hard_squad(draw(st.integers(0, 2**16)), hardships, draw(st.integers(1, most_athletes)))


def _plain(athletes: int, rng: Rng) -> pd.DataFrame:
    truths = [
        simulated_truths(
            str(rng.choice(list(SHAPES))), 1, rng, best=float(rng.choice([4, 14, 40]))
        )[0]
        for _ in range(athletes)
    ]
    protocol = Protocol(
        fade_tests=int(rng.integers(0, 3)),
        routine_sessions=int(rng.integers(1, 8)),
        own_habit=bool(rng.random() < 0.3),
    )
    noise = Noise(
        effort=float(rng.choice([0.01, 0.03, 0.08])),
        day=float(rng.choice([0.0, 0.02])),
        spoiled_share=float(rng.choice([0.0, 0.05])),
    )
    around = Surroundings(Account(), drawn_circumstances) if rng.random() < 0.4 else None
    rows = simulate_squad(truths, protocol, noise, rng, around)
    first = rows.drop_duplicates("session")["session"]
    context = dict(zip(first, rng.choice(["training", "game", "test"], len(first)), strict=True))
    return rows.assign(context=rows["session"].map(context) if rng.random() < 0.5 else None)


def _someone(rows: pd.DataFrame, rng: Rng) -> pd.Series:
    """Mark the rows of one athlete, drawn at random."""
    return rows["athlete"] == rng.choice(rows["athlete"].unique())


def _some_sessions(rows: pd.DataFrame, share: float, rng: Rng) -> pd.Series:
    """Mark the rows of a share of the sessions, drawn at random; at least one session."""
    sessions = rows["session"].unique()
    count = max(1, round(share * len(sessions)))
    return rows["session"].isin(rng.choice(sessions, count, replace=False))


def _one_unlike_the_others(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """One athlete has another level, another noise and perhaps a curve turned upside down."""
    own = _someone(rows, rng)
    value, middle = rows["value"], rows.loc[own, "value"].median()
    stretch = float(rng.choice([-5.0, -1.0, 3.0, 10.0]))
    unlike = middle * float(rng.choice([0.1, 0.7, 4.0])) * (value / middle) ** stretch
    return rows.assign(value=value.where(~own, unlike))


def _units_mixed_up(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Some sessions, or one athlete's, are in inches, metres or milliseconds."""
    other = _someone(rows, rng) if rng.random() < 0.4 else _some_sessions(rows, 0.3, rng)
    factor = float(rng.choice([1 / CM_PER_INCH, CM_PER_INCH, 0.01, 1000.0]))
    return rows.assign(value=rows["value"].where(~other, factor * rows["value"]))


def _slipped_digits(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """A few values have a digit too many or too few."""
    slipped = rng.random(len(rows)) < 0.03
    factor = rng.choice([0.1, 10.0, 100.0], len(rows))
    return rows.assign(value=rows["value"].where(~slipped, factor * rows["value"]))


def _nearly_noise_free(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Values lie on a smooth curve, or are all the same, but for the last digits."""
    level = rows.groupby("athlete")["value"].transform("median")
    bend = -0.02 * (np.log1p(rows["volume"]) - float(rng.uniform(1.0, 3.0))) ** 2
    curve = bend if rng.random() < 0.6 else 0.0 * bend
    noise = float(rng.choice([0.0, 1e-12, 1e-6, 1e-4])) * rng.standard_normal(len(rows))
    value = level * np.exp(curve + noise)
    return rows.assign(value=value.round(1) if rng.random() < 0.3 else value)


def _one_volume(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """One athlete's efforts, everyone's, or everyone else's are all at one volume."""
    own = _someone(rows, rng)
    where = [own | ~own, own, ~own][rng.integers(3)]
    volume = float(rng.choice([0.0, 1.0, 15.0, 2.5]))
    return rows.assign(volume=rows["volume"].where(~where, volume))


def _huge_volumes(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Volumes are far larger or smaller: all of them, one athlete's, or a few by a slip."""
    where = [rows["volume"] >= 0, _someone(rows, rng), rng.random(len(rows)) < 0.02]
    factor = float(rng.choice([100.0, 1000.0, 0.001]))
    there = pd.Series(where[rng.integers(3)], index=rows.index)
    return rows.assign(volume=rows["volume"].where(~there, factor * rows["volume"]))


def _sessions_of_one_effort(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """All sessions, or one athlete's, are a single effort."""
    where = _someone(rows, rng) if rng.random() < 0.5 else rows["volume"] >= 0
    single = rows.groupby("session").sample(1, random_state=int(rng.integers(2**31))).index
    return rows[~where | rows.index.isin(single)]


def many_efforts(rows: pd.DataFrame, rng: Rng, most: int = 3000) -> pd.DataFrame:
    """One athlete has `most / 3` to `most` efforts more, in one session or in many."""
    own = rows[_someone(rows, rng)]
    count = int(rng.integers(most // 3, most + 1))
    more = own.sample(count, replace=True, random_state=int(rng.integers(2**31)))
    session = (
        more["athlete"]
        + "-more-"
        + (np.arange(count) // int(rng.choice([5, 50, 5000]))).astype(str)
    )
    day = 1000.0 + pd.Series(pd.factorize(session)[0], index=more.index)
    value = more["value"] * np.exp(0.02 * rng.standard_normal(count))
    return pd.concat([rows, more.assign(session=session, day=day, value=value)])


def _duplicated_times(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Sessions begin at the same time, and some rows occur twice or more."""
    same = _some_sessions(rows, float(rng.choice([0.3, 1.0])), rng)
    rows = rows.assign(day=rows["day"].where(~same, 3.0))
    twice = rows.sample(frac=0.3, random_state=int(rng.integers(2**31)))
    return pd.concat([rows, twice, twice.head(5), twice.head(5)])


def _short_tests(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Sessions end after a few efforts."""
    most = int(rng.integers(1, 7))
    return rows[rows.groupby("session").cumcount() < most]


def _hardly_anything(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Some athletes have only one session, others only one effort."""
    own = rows.groupby("athlete")
    one_session = rows["session"] == own["session"].transform("first")
    luck = rows["athlete"].map({name: rng.random() for name in rows["athlete"].unique()})
    return rows[(luck < 0.4) | (one_session & ((luck < 0.7) | (own.cumcount() == 0)))]


def _wild_circumstances(rows: pd.DataFrame, rng: Rng) -> pd.DataFrame:
    """Circumstances are at the ends of what is allowed, or missing."""
    ends = {
        "general_minutes": [0.0, 240.0, np.nan],
        "rest_minutes": [0.0, 1440.0, np.nan],
        "ambient_c": [-40.0, 60.0, 20.0, np.nan],
        "hour": [0.0, 9.0, 23.99],
        "days_since_game": [0.0, 3650.0, np.nan],
        "readiness": [0.0, 10.0, np.nan],
    }
    first = rows.drop_duplicates("session")["session"]
    drawn = {
        name: rows["session"].map(dict(zip(first, rng.choice(found, len(first)), strict=True)))
        for name, found in ends.items()
        if rng.random() < 0.6
    }
    return rows.assign(**drawn)


HARDSHIPS: dict[str, Callable[[pd.DataFrame, Rng], pd.DataFrame]] = {
    "one unlike the others": _one_unlike_the_others,
    "units mixed up": _units_mixed_up,
    "slipped digits": _slipped_digits,
    "nearly noise-free": _nearly_noise_free,
    "one volume": _one_volume,
    "huge volumes": _huge_volumes,
    "sessions of one effort": _sessions_of_one_effort,
    "thousands of efforts": many_efforts,
    "duplicated times": _duplicated_times,
    "short tests": _short_tests,
    "hardly anything": _hardly_anything,
    "wild circumstances": _wild_circumstances,
}
"""The functions that change the rows, by name."""
