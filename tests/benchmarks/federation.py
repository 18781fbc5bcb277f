"""What small clubs gain from what other clubs have learned, in simulated federations.

    python -m tests.benchmarks.federation --seeds 4 [--first 0] [--workers 2]

A federation is twenty clubs of 4 to 30 athletes that differ in what is usual among their athletes.
What each club's fit learned is pooled, and clubs that had no part in it are fitted with and
without that: ordinary clubs of four with one fade test each; the same with a measure where all
peak three times as late and gain less; odd clubs, whose athletes peak three times as late as
anybody's; and clubs of 4 to 16 that got the knowledge of a federation where all peak three times
as early. The table also shows the most that could be gained: the same fit, given the true
distribution of athletes. Seeds 900 to 903 were kept for the last measurement.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from modeling import ResponseModel
from modeling.clubs.learned_summary import COORDINATES, FEWEST_ATHLETES, learned_summary
from modeling.clubs.squad_prior import pooled
from modeling.curve.shapes import Hyperprior
from modeling.fit.prior import SquadPrior
from modeling.testing.rough_squads import MIXED
from modeling.testing.simulation import Noise, Protocol, Truth, simulate_squad
from modeling.testing.true_curves import simulated_truths
from tests.benchmarks.markdown import table
from tests.benchmarks.model_scores import INTERVALS, athlete_scores
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

CLUBS, SMALLEST, LARGEST = 20, 4, 30
NEW_CLUBS = 20
"""New clubs of each kind."""

LATE = 3.0
"""Odd clubs peak this many times as late as usual, those of a wrong federation as early."""

WITHIN_LOG_SD, BETWEEN_LOG_SD = 0.6, 0.35
"""Spread of best volumes within a club, and of clubs' medians."""


@dataclass(frozen=True)
class Club:
    """A club to draw: its kind, how many athletes, and how late they peak."""

    kind: str
    athletes: int
    times: float = 1.0
    wrong: bool = False
    gain: float = 0.07


NEW = (
    Club("four, one test each", 4),
    Club("the same, late and little gain", 4, LATE, gain=0.03),
    Club("odd, eight athletes", 8, LATE),
    *(Club(f"wrong knowledge, {n} athletes", n, wrong=True) for n in (4, 8, 16)),
)


def drawn(
    club: Club, protocol: Protocol, rng: np.random.Generator
) -> tuple[list[Truth], pd.DataFrame]:
    """Draw a club's athletes, each with any of the shapes, and their efforts."""
    best = 14.0 * club.times * np.exp(BETWEEN_LOG_SD * rng.standard_normal())
    gain = club.gain * np.exp(0.2 * rng.standard_normal())
    scale = club.times
    truths = []
    for shape in rng.choice(list(MIXED), club.athletes):
        truths += simulated_truths(
            shape,
            1,
            rng,
            best=float(best),
            best_log_sd=WITHIN_LOG_SD,
            gain=float(gain),
            shapes=MIXED,
            reach=(2.0 * scale, 90.0 * scale),
            least_hold=6.0 * scale,
        )
    noise = Noise(*(size * np.exp(0.15 * rng.standard_normal()) for size in (0.03, 0.02)))
    return truths, simulate_squad(truths, protocol, noise, rng)


def fitted(frame: pd.DataFrame, prior: SquadPrior | None) -> ResponseModel:
    """Fit a club."""
    model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT, prior=prior)
    return model.fit(frame, frame["value"])


def knowledge(seed: int, times: float = 1.0, gain: float = 0.07) -> SquadPrior:
    """Pool what the clubs of a federation have learned; clubs that are too small tell nothing."""
    rng = np.random.default_rng([seed, round(times * 100)])
    told = []
    for athletes in rng.integers(SMALLEST, LARGEST + 1, CLUBS):
        _, frame = drawn(Club("", int(athletes), times, gain=gain), Protocol(2, 6), rng)
        if athletes >= FEWEST_ATHLETES:
            told.append(learned_summary(fitted(frame, None).fit_, int(athletes)))
    return pooled(told)


def true(club: Club) -> SquadPrior:
    """Return the distribution that a club's athletes are drawn from, as a near-certain prior."""
    mean = np.log([14.0 * club.times, club.gain, 20.0 * club.times])
    spread = np.array([WITHIN_LOG_SD, 0.5, 0.55])
    together = np.array([[1.0, 0.0, 0.7], [0.0, 1.0, 0.0], [0.7, 0.0, 1.0]])
    curves = Hyperprior(
        mean,
        np.array([BETWEEN_LOG_SD, 0.2, BETWEEN_LOG_SD]),
        together * np.outer(spread, spread),
        100.0,
    )
    variances = np.array([0.03, 0.02, 0.003, 0.002]) ** 2
    return SquadPrior(COORDINATES, curves, variances, np.full(4, 40.0))


def scores(seed: int) -> Iterator[dict[str, object]]:
    """Fit new clubs of each kind alone, with what their federation knows, and with the truth."""
    usual, early, late = (
        knowledge(seed),
        knowledge(seed, 1.0 / LATE),
        knowledge(seed, LATE, NEW[1].gain),
    )
    for number, club in enumerate(NEW):
        prior = early if club.wrong else late if club is NEW[1] else usual
        for each in range(NEW_CLUBS):
            rng = np.random.default_rng([seed, number, each])
            truths, frame = drawn(club, Protocol(1, 0), rng)
            for way, told_before in (("alone", None), ("with", prior), ("truth", true(club))):
                model = fitted(frame, told_before)
                for athlete, (code, rows) in zip(truths, frame.groupby("athlete"), strict=True):
                    told = athlete_scores(athlete, model.responses_[code], rows)
                    yield {"seed": seed, "kind": club.kind, "way": way, **told}


def report(found: pd.DataFrame) -> pd.DataFrame:
    """Return the loss at the advised volume and the coverage of intervals, each way."""
    found = found.assign(held=found[INTERVALS].astype(float).mean(axis=1))
    by = found.groupby(["kind", "way"])[["loss_pct", "held"]].mean().unstack()
    by.columns = [f"{what} {way}" for what, way in by.columns]
    for way in ("with", "truth"):
        by[f"loss less by, {way}"] = 1.0 - by[f"loss_pct {way}"] / by["loss_pct alone"]
    return by.loc[[club.kind for club in NEW]]


def main() -> None:
    """Draw federations, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=4, help="how many federations")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--workers", type=int, default=1, help="processes")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.seeds)
    lists = Parallel(n_jobs=asked.workers)(delayed(lambda s: list(scores(s)))(s) for s in seeds)
    print(table(report(pd.DataFrame([line for lines in lists for line in lines])), "{:.3f}"))


if __name__ == "__main__":
    main()
