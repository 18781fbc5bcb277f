"""Do squads that follow the list of next tests learn more, sooner?

    python -m tests.benchmarks.next_test --seeds 4

Squads of 30 start from one fade test each and then have routine sessions only: at the usual
volume, or at the volume that the list proposes for each athlete after every fit. It prints the mean
loss at the advised volume after some numbers of sessions; both ways share truths and fade tests.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.day.next_test import next_tests
from modeling.testing.simulated_tests import ROUTINE_EFFORTS
from modeling.testing.simulation import (
    SHAPES,
    Noise,
    Protocol,
    Truth,
    routine_session,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import STANDARD

__all__ = ["losses_by_session", "main"]

ATHLETES = 30
SHAPES_WITH_EFFECT = [shape for shape in SHAPES if shape != "no effect"]
BY_LIST, AT_USUAL = "by the list", "at the usual volume"
TOLD_AFTER = {BY_LIST: (0, 2, 4, 6, 8), AT_USUAL: (0, 8, 12)}


def losses_by_session(shape: str, seed: int, way: str) -> dict[int, float]:
    """Test one squad, and return the mean loss after some numbers of sessions, in %."""
    rng = np.random.default_rng([seed, SHAPES_WITH_EFFECT.index(shape)])
    truths = simulated_truths(shape, ATHLETES, rng)
    frame = simulate_squad(truths, Protocol(1, 0), Noise(), rng)
    told = TOLD_AFTER[way]
    losses = {}
    for session in range(max(told) + 1):
        if way == BY_LIST or session in told:
            model = ResponseModel(standard_volume=STANDARD).fit(frame, frame["value"])
        if session in told:
            losses[session] = _loss(model, truths)
        volumes = _proposed(model) if way == BY_LIST else [STANDARD] * ATHLETES
        frame = pd.concat([frame, _tested(truths, volumes, session, rng)], ignore_index=True)
    return losses


def _code(number: int) -> str:
    return f"A{number + 1:02d}"


def _loss(model: ResponseModel, truths: list[Truth]) -> float:
    found = [model.responses_[_code(n)].advised_volume for n in range(len(truths))]
    return float(np.mean([t.loss_pct(v) for t, v in zip(truths, found, strict=True)]))


def _proposed(model: ResponseModel) -> list[float]:
    codes = [_code(n) for n in range(ATHLETES)]
    routine = {
        each.athlete: each.volume for each in next_tests(model, codes) if each.kind == "routine"
    }
    return [routine[code] for code in codes]


def _tested(
    truths: list[Truth], volumes: list[float], session: int, rng: np.random.Generator
) -> pd.DataFrame:
    frames = []
    for number, (athlete, first) in enumerate(zip(truths, volumes, strict=True)):
        # Coaches hit the volume they meant only roughly: by a factor of 1.28 either way.
        start = max(0, round(first * float(np.exp(0.25 * rng.standard_normal()))))
        volume = start + np.arange(ROUTINE_EFFORTS, dtype=float)
        frames.append(
            pd.DataFrame(
                {
                    "athlete": _code(number),
                    "session": f"{_code(number)}-next-{session}",
                    "day": 7.0 * (session + 1),
                    "volume": volume,
                    "value": routine_session(athlete, volume, Noise(), rng),
                }
            )
        )
    return pd.concat(frames, ignore_index=True)


def main() -> None:
    """Run the squads and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=4)
    squads = [
        (shape, seed) for seed in range(parser.parse_args().seeds) for shape in SHAPES_WITH_EFFECT
    ]
    runs = {}
    for way in TOLD_AFTER:
        runs[way] = pd.DataFrame([losses_by_session(shape, seed, way) for shape, seed in squads])
    means = pd.DataFrame({way: runs[way].mean() for way in runs})
    print(table(means.rename_axis("sessions"), "{:.3f}"))
    last = max(TOLD_AFTER[AT_USUAL])
    for session in runs[BY_LIST]:
        apart = runs[BY_LIST][session] - runs[AT_USUAL][last]
        reach = 1.645 * apart.std() / np.sqrt(len(apart))
        print(
            f"{session} sessions by the list less {last} at the usual volume: {apart.mean():+.3f} "
            f"({apart.mean() - reach:+.3f} to {apart.mean() + reach:+.3f}), {len(apart)} squads"
        )


if __name__ == "__main__":
    main()
