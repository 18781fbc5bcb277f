"""Do squads that are tested by the list of next tests know more, sooner?

    python -m tests.benchmarks.next_test --seeds 2

Squads of 30 start from one fade test each and then have routine sessions only: at the usual
volume, or at the volume that the list proposes for each athlete after every fit. The mean loss at
the advised volume is told after each number of sessions.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.next_test import ROUTINE_EFFORTS, session_worths
from modeling.simulation import (
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
SESSIONS = 12


def losses_by_session(
    shape: str, seed: int, by_list: bool, sessions: int = SESSIONS
) -> list[float]:
    """Test one squad and give the mean loss after 0, 1, 2 ... sessions, in %."""
    rng = np.random.default_rng([seed, SHAPES_WITH_EFFECT.index(shape)])
    truths = simulated_truths(shape, ATHLETES, rng)
    frame = simulate_squad(truths, Protocol(1, 0), Noise(), rng)
    losses = []
    for session in range(sessions + 1):
        model = ResponseModel(standard_volume=STANDARD).fit(frame, frame["value"])
        losses.append(_loss(model, truths))
        volumes = [_proposed(model, _code(n)) if by_list else STANDARD for n in range(ATHLETES)]
        frame = pd.concat([frame, _tested(truths, volumes, session, rng)], ignore_index=True)
    return losses


def _code(number: int) -> str:
    return f"A{number + 1:02d}"


def _loss(model: ResponseModel, truths: list[Truth]) -> float:
    found = [model.responses_[_code(n)].advised_volume for n in range(len(truths))]
    return float(np.mean([t.loss_pct(v) for t, v in zip(truths, found, strict=True)]))


def _proposed(model: ResponseModel, athlete: str) -> float:
    worths = session_worths(model, athlete, fade=False)
    return max(worths, key=lambda each: worths[each])[1]


def _tested(
    truths: list[Truth], volumes: list[float], session: int, rng: np.random.Generator
) -> pd.DataFrame:
    frames = []
    for number, (athlete, first) in enumerate(zip(truths, volumes, strict=True)):
        # Coaches hit the volume they meant only about: by a factor of 1.28 either way.
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


SHAPES_WITH_EFFECT = [shape for shape in SHAPES if shape != "no effect"]


def main() -> None:
    """Run the squads and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=2)
    seeds = range(parser.parse_args().seeds)
    means = {}
    for name, by_list in [("by the list", True), ("at the usual volume", False)]:
        runs = [
            losses_by_session(shape, seed, by_list)
            for shape in SHAPES_WITH_EFFECT
            for seed in seeds
        ]
        means[name] = np.mean(runs, axis=0)
    told = pd.DataFrame(means)
    print(table(told.rename_axis("sessions").map(lambda loss: f"{loss:.3f}")))
    usual = told["at the usual volume"].iloc[-1]
    reached = told.index[told["by the list"] <= usual]
    print(
        f"\nThe list reaches what the usual volume has after {SESSIONS} sessions after "
        f"{reached.min() if len(reached) else 'more than that'}."
    )


if __name__ == "__main__":
    main()
