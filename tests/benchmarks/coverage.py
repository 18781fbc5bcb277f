"""How often the intervals of the reliability page hold the truth, on squads drawn at random.

Run with: python -m tests.benchmarks.coverage --seeds 2000
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
import pandas as pd

from modeling.repeat.reliability import trend
from modeling.repeat.variance_components import components
from tests.benchmarks.markdown import table

__all__ = ["SQUADS", "Squad", "coverage", "sessions_of"]


@dataclass(frozen=True)
class Squad:
    """Sessions of each athlete, and standard deviations of athletes, trials and error."""

    sessions: tuple[int, ...]
    athlete: float
    trial: float
    error: float


UNEVEN = (2, 2, 3, 3, 4, 4, 5, 6, 6, 7, 8, 8)
SQUADS = {
    "12 athletes, 2 to 8 sessions": Squad(UNEVEN, 3.0, 0.0, 1.0),
    "the same, trials that move all, athletes alike": Squad(UNEVEN, 1.0, 0.5, 1.0),
    "7 athletes, 1 to 9 sessions, noisy": Squad((1, 1, 1, 2, 2, 3, 9), 1.0, 0.0, 2.0),
    "10 athletes, 3 sessions, trials that move all": Squad((3,) * 10, 3.0, 0.7, 1.0),
}


def sessions_of(squad: Squad, seed: int) -> pd.DataFrame:
    """Draw a squad's sessions: `athlete`, `trial`, `value`."""
    random = np.random.default_rng(seed)
    who = np.repeat(np.arange(len(squad.sessions)), squad.sessions)
    when = np.concatenate([np.arange(1, count + 1) for count in squad.sessions])
    value = 50.0 + random.normal(0.0, squad.athlete, len(squad.sessions))[who]
    value = value + random.normal(0.0, squad.trial, when.max() + 1)[when]
    value = value + random.normal(0.0, squad.error, len(who))
    return pd.DataFrame({"athlete": who, "trial": when, "value": value})


def coverage(squad: Squad, seeds: int) -> dict[str, float]:
    """Return the share of 90 % intervals that hold the truth, by quantity."""
    between, error = squad.athlete**2, squad.error**2
    truth = {
        "typical error": squad.error,
        "between athletes": squad.athlete,
        "ICC(3,1)": between / (between + error),
        "ICC(2,1)": between / (between + squad.trial**2 + error),
        "trend": 0.0,
    }
    held = dict.fromkeys(truth, 0)
    for seed in range(seeds):
        rows = sessions_of(squad, seed)
        parts = components(rows["athlete"], rows["trial"], rows["value"])
        found = (
            parts.error_sd(),
            parts.between_sd(),
            parts.icc_3_1(),
            parts.icc_2_1(),
            trend(rows, "value", parts),
        )
        for name, estimate in zip(truth, found, strict=True):
            held[name] += estimate.low <= truth[name] <= estimate.high
    return {name: count / seeds for name, count in held.items()}


def main() -> None:
    """Draw every squad many times, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=2000)
    seeds = parser.parse_args().seeds
    found = {name: coverage(squad, seeds) for name, squad in SQUADS.items()}
    print(table(pd.DataFrame.from_dict(found, orient="index"), "{:.3f}"))


if __name__ == "__main__":
    main()
