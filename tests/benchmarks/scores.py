"""How good advice is against the known truth, scored in the same way for every peer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling.testing.simulation import Truth
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = [
    "CALLS",
    "Advice",
    "advice_from_curves",
    "best_range",
    "brier",
    "chances_told",
    "covers",
    "hold_range",
    "scores_of",
    "share_right",
    "true_call",
    "volumes_up_to",
]

FloatArray = NDArray[np.float64]

CALLS = ("short", "long", "either")
FIRM_CHANCE = 0.8
REACH = 1.3
"""Peaks are looked for up to this multiple of the largest volume tried."""


@dataclass(frozen=True)
class Advice:
    """What a peer says about one athlete; None where it cannot say.

    Attributes
    ----------
    volume : float
        The advised volume.
    best_volume : tuple of float or None
        90 % interval.
    chances : tuple of float or None
        Chances of short, long and either.
    call : str
        One of `CALLS`, or "not known".
    """

    volume: float
    best_volume: tuple[float, float] | None = None
    chances: tuple[float, float, float] | None = None
    call: str = "not known"


def volumes_up_to(largest: float, smallest: float = 0.0) -> FloatArray:
    """Return volumes at which to look for a peak, denser near 0; one is always the standard."""
    steps = np.expm1(np.linspace(np.log1p(smallest), np.log1p(largest), 240))
    return np.unique(np.append(steps, STANDARD))


def advice_from_curves(volume: FloatArray, curves: FloatArray) -> Advice:
    """Turn draws of a curve, (n_volumes, n_draws) in log performance, into advice.

    The advised volume has the highest expected performance among whole numbers of efforts, as
    nobody can do part of one; interval and chances are counted over the draws.
    """
    change = curves - curves.max(axis=0)
    best = volume[curves.argmax(axis=0)]
    loss = -100.0 * np.expm1(change[np.searchsorted(volume, STANDARD)])
    matters = loss > WORTHWHILE_PCT
    short = float(np.mean(matters & (best < STANDARD)))
    long = float(np.mean(matters & (best >= STANDARD)))
    chances = (short, long, 1.0 - short - long)
    low, high = np.quantile(best, [0.05, 0.95])
    whole = np.arange(np.ceil(volume[0]), volume[-1] + 1e-9)
    expected = np.interp(whole, volume, np.exp(change).mean(axis=1))
    return Advice(
        volume=float(whole[expected.argmax()]),
        best_volume=(float(low), float(high)),
        chances=chances,
        call=CALLS[int(np.argmax(chances))] if max(chances) >= FIRM_CHANCE else "not known",
    )


def true_call(athlete: Truth) -> str:
    """Return the call that is right."""
    return athlete.right_call(STANDARD, WORTHWHILE_PCT)


def best_range(athlete: Truth) -> tuple[float, float]:
    """Return the range of best volumes: a single one for most shapes, the whole of a plateau."""
    near = np.append(np.linspace(0.3, 2.0, 3401) * athlete.best_volume, athlete.best_volume)
    flat = near[athlete.change(near) > -1e-9]
    return float(flat.min()), float(flat.max())


def hold_range(athlete: Truth) -> tuple[float, float]:
    """Return the range of volumes from a best volume until performance is 10 % down."""
    low, high = best_range(athlete)
    end = athlete.best_volume + athlete.hold_volume
    return end - high, end - low


def covers(interval: tuple[float, float], true: tuple[float, float]) -> bool:
    """Tell whether an interval overlaps the range of the true value."""
    return interval[0] <= true[1] and true[0] <= interval[1]


def scores_of(athlete: Truth, advice: Advice) -> dict[str, object]:
    """Score one athlete's advice: loss in %, whether the interval covers, call and right call."""
    # With no effect of volume there is no best volume to cover.
    judged = athlete.gain > 0 and advice.best_volume is not None
    low, high = advice.best_volume or (np.nan, np.nan)
    chances = advice.chances or (np.nan,) * 3
    return {
        "loss_pct": athlete.loss_pct(advice.volume) if np.isfinite(advice.volume) else np.nan,
        "best": float(covers((low, high), best_range(athlete))) if judged else np.nan,
        "best_middle": float(low <= athlete.best_volume <= high) if judged else np.nan,
        "call": advice.call,
        "true_call": true_call(athlete),
        **{f"chance_{name}": chance for name, chance in zip(CALLS, chances, strict=True)},
    }


def share_right(scores: pd.DataFrame) -> float:
    """Return the share of firm calls that are right."""
    firm = scores[scores["call"] != "not known"]
    return float((firm["call"] == firm["true_call"]).mean())


def brier(athletes: pd.DataFrame) -> float:
    """Return the mean squared error of the three chances, summed over them (Brier 1950)."""
    return float(
        sum(
            ((athletes[f"chance_{name}"] - (athletes["true_call"] == name)) ** 2).mean()
            for name in CALLS
        )
    )


def chances_told(athletes: pd.DataFrame) -> pd.DataFrame:
    """Return stated chances, in tenths, against how often they came true; all three together."""
    stated = np.concatenate([athletes[f"chance_{name}"] for name in CALLS])
    true = np.concatenate([athletes["true_call"] == name for name in CALLS])
    tenth = np.minimum((stated * 10).astype(int), 9)
    frame = pd.DataFrame({"chance": stated, "came true": true.astype(float), "tenth": tenth})
    found = frame.groupby("tenth").agg(
        count=("chance", "size"), stated=("chance", "mean"), came_true=("came true", "mean")
    )
    found["count"] = found["count"].astype(str)
    found.index = pd.Index([f"{t / 10:.1f} to {(t + 1) / 10:.1f}" for t in found.index])
    return found.rename(columns={"came_true": "came true"}).rename_axis("chance")
