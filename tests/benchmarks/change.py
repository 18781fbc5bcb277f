"""How often a best volume that doubles in mid-season is found, and one that did not is reported.

    python -m tests.benchmarks.change --seeds 8

Squads of 30: two fade tests and twelve routine sessions, then a fade test and five routine
sessions. Every third athlete's best volume is twice as high in the second part.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.answers.change import best_volume_change
from modeling.testing.simulation import SHAPES, Noise, Protocol, simulate_squad, truth
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import STANDARD

__all__ = ["FOUND", "changing_squad", "main", "squad_changes"]

FOUND = 0.8
"""A change is reported from this chance on, as a call is."""

ATHLETES = 30
LATER_DAYS = 100.0


def changing_squad(
    shape: str, rng: np.random.Generator, athletes: int = ATHLETES, later: Protocol | None = None
) -> tuple[pd.DataFrame, list[bool]]:
    """Simulate a squad, and return whose best volume doubles."""
    frames, doubled = [], []
    for number in range(athletes):
        best = float(np.clip(14.0 * np.exp(0.9 * rng.standard_normal()), 2.0, 45.0))
        gain = 0.07 * float(np.exp(0.5 * rng.standard_normal()))
        hold = (6.0 + best) * float(np.exp(0.4 * rng.standard_normal()))
        level = 40.0 * float(np.exp(0.12 * rng.standard_normal()))
        doubles = number % 3 == 0
        first = simulate_squad(
            [truth(shape, best, gain, hold, level)], Protocol(2, 12), Noise(), rng
        )
        second = simulate_squad(
            [truth(shape, best * 2.0 if doubles else best, gain, hold, level)],
            later or Protocol(1, 5),
            Noise(),
            rng,
        )
        second = second.assign(day=second["day"] + LATER_DAYS, session="later " + second["session"])
        both = pd.concat([first, second])
        both["athlete"] = f"A{number + 1:02d}"
        both["session"] = both["athlete"] + " " + both["session"]
        frames.append(both)
        doubled.append(doubles)
    return pd.concat(frames, ignore_index=True), doubled


def squad_changes(shape: str, seed: int) -> pd.DataFrame:
    """Fit one squad, and return what was true and what was found for every athlete."""
    frame, doubled = changing_squad(shape, np.random.default_rng(seed))
    model = ResponseModel(standard_volume=STANDARD).fit(frame, frame["value"])
    rows = []
    for posterior, true in zip(model.fit_.posteriors, doubled, strict=True):
        change = best_volume_change(model.fit_, posterior)
        assert change.before is not None and change.after is not None
        rows.append(
            {
                "shape": shape,
                "doubled": true,
                "found": change.chance >= FOUND and change.tellable,
                "factor": change.after.median / change.before.median,
                "right session": "later" in str(change.since) and change.sessions_since == 6,
            }
        )
    return pd.DataFrame(rows)


def main() -> None:
    """Run the squads and print two tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=8)
    shapes = [shape for shape in SHAPES if shape != "no effect"]
    seeds = range(parser.parse_args().seeds)
    found = pd.concat([squad_changes(shape, seed) for shape in shapes for seed in seeds])
    by_shape = found.groupby(["shape", "doubled"])["found"].mean().unstack()
    by_shape.loc["all"] = found.groupby("doubled")["found"].mean()
    print(table(by_shape.rename(columns={True: "found, doubled", False: "told, unchanged"})))
    told = found[found["doubled"] & found["found"]]
    print(
        f"\nOf those found: factor {told['factor'].median():.2f} (median), dated to the very "
        f"session in {told['right session'].mean():.0%}."
    )


if __name__ == "__main__":
    main()
