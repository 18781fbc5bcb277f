"""How much time and memory fits take, and how both grow.

    python -m tests.benchmarks.speed

prints a table in Markdown. Every fit runs in its own process, one at a time.
"""

from __future__ import annotations

import argparse
import gc
from time import perf_counter

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.testing.simulation import SHAPES, Noise, Protocol, simulate_squad, simulated_truths
from tests.benchmarks.fresh_process import in_fresh_process
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = ["fit_seconds", "fold_milliseconds", "main", "mixed_squad"]

PROTOCOL = Protocol(fade_tests=1, routine_sessions=20)
EFFORTS_EACH = 100
FOLDS = 20


def mixed_squad(athletes: int) -> pd.DataFrame:
    """Simulate athletes of all shapes with an effect, with 100 efforts each on average."""
    rng = np.random.default_rng(athletes)
    shapes = [name for name in SHAPES if name != "no effect"]
    truths = [simulated_truths(shapes[n % len(shapes)], 1, rng)[0] for n in range(athletes)]
    squad = simulate_squad(truths, PROTOCOL, Noise(), rng)
    spare = len(squad) - EFFORTS_EACH * athletes
    if spare <= 0:
        return squad
    # Leave out efforts of fade tests at random, so that the total is what was asked for.
    fade = squad.index[squad["kind"] == "fade"]
    return squad.drop(rng.choice(fade, spare, replace=False)).reset_index(drop=True)


def fit_seconds(frame: pd.DataFrame) -> float:
    """Fit one squad and return the seconds, without imports and their garbage collection."""
    gc.collect()
    began = perf_counter()
    _fitted(frame)
    return perf_counter() - began


def fold_milliseconds(frame: pd.DataFrame) -> tuple[float, float]:
    """Fold athletes into a fit without their last session; return median and longest time."""
    last = frame.groupby("athlete")["day"].transform("max") == frame["day"]
    model = _fitted(frame[~last])
    times = []
    for code in sorted(frame["athlete"].unique())[:FOLDS]:
        rows = frame[frame["athlete"] == code]
        began = perf_counter()
        model.fold(rows, rows["value"])
        times.append(1000.0 * (perf_counter() - began))
    return float(np.median(times)), float(np.max(times))


def _fitted(frame: pd.DataFrame) -> ResponseModel:
    model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT)
    return model.fit(frame, frame["value"])


def main() -> None:
    """Time squads of growing size and folding, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--athletes", nargs="+", type=int, default=[30, 250, 500, 1000])
    parser.add_argument("--repeats", type=int, default=3, help="fits of each; the median is told")
    asked = parser.parse_args()
    lines = {}
    for athletes in asked.athletes:
        # Simulate in another process too, because a child starts from its parent's memory peak.
        frame = in_fresh_process(mixed_squad, athletes).value
        found = [in_fresh_process(fit_seconds, frame) for _ in range(asked.repeats)]
        seconds = float(np.median([each.value for each in found]))
        lines[f"{athletes} athletes, {len(frame):,} efforts"] = {
            "seconds": seconds,
            "milliseconds an athlete": 1000.0 * seconds / athletes,
            "peak MiB": f"{max(each.peak_mib for each in found):.0f}",
        }
    print(table(pd.DataFrame.from_dict(lines, orient="index")))
    median, longest = in_fresh_process(fold_milliseconds, mixed_squad(30)).value
    print(f"\nFolding one session in: median {median:.1f} ms, longest of {FOLDS} {longest:.1f} ms.")


if __name__ == "__main__":
    main()
