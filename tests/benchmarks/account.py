"""The account's constants: are they found, and what do they bring?

    python -m tests.benchmarks.account --seeds 40 --first 40

Simulated squads of 30 (two fade tests and twelve routine sessions each) in changing
circumstances. In half of the squads the constants are drawn around their defaults, in the other
half they have no effect at all. Athletes follow the advice of the model with the account, and of
the plain model, in new circumstances. The tables show what is lost, and the share of intervals
that hold the true constant with its own interval (95 %; Wilson's for one constant, and by squads
for all, since the four intervals of a squad are correlated).
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd
from scipy.stats import binomtest, sem, t

from modeling import ResponseModel
from modeling.curve.account import CONSTANTS, RANGE_SDS, Account, Circumstances
from modeling.testing.simulation import (
    SHAPES,
    Noise,
    Protocol,
    Surroundings,
    Truth,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import STANDARD

__all__ = ["drawn_circumstances", "main", "squad_result"]

NONE = Account(0.0, np.inf, 0.0, 0.0)
ATHLETES = 30
NEW_DAYS = 20
PLAIN = ["athlete", "session", "day", "volume"]


def drawn_circumstances(rng: np.random.Generator) -> Circumstances:
    """Draw a session's circumstances: a mild climate, halls and pitches, all day."""
    return Circumstances(
        general_minutes=float(rng.choice([5.0, 8.0, 10.0, 15.0])),
        rest_minutes=float(rng.choice([0.0, 0.0, 3.0, 8.0, 15.0, 30.0])),
        ambient_c=float(rng.normal(16.0, 6.0)),
        hour=float(rng.choice([9.0, 11.0, 16.0, 18.0])),
    )


def _drawn_account(rng: np.random.Generator) -> Account:
    inner = {
        c.name: max(c.inner(c.default) + c.sd * rng.standard_normal(), c.least_inner)
        for c in CONSTANTS
    }
    return Account(**{c.name: c.outer(inner[c.name]) for c in CONSTANTS})


def squad_result(seed: int, effect: bool) -> dict[str, float]:
    """Simulate and fit one squad; return what both models lose, and which intervals hold."""
    rng = np.random.default_rng([seed, int(effect)])
    shapes = [shape for shape in SHAPES if shape != "no effect"]
    truths = simulated_truths(shapes[seed % len(shapes)], ATHLETES, rng)
    true = _drawn_account(rng) if effect else NONE
    frame = simulate_squad(
        truths, Protocol(), Noise(), rng, Surroundings(true, drawn_circumstances)
    )
    whole = ResponseModel(standard_volume=STANDARD).fit(frame, frame["value"])
    plain = ResponseModel(standard_volume=STANDARD).fit(frame[PLAIN], frame["value"])
    shared = whole.fit_.learned.shared
    sd = np.sqrt(np.diag(shared.covariance))[len(shared.marks) :]
    held = {}
    for constant, found, spread in zip(
        CONSTANTS, shared.found[len(shared.marks) :], sd, strict=True
    ):
        away = abs(found - constant.inner(getattr(true, constant.name)))
        held[constant.name] = float(away < RANGE_SDS / 2.0 * spread)
    days = [drawn_circumstances(rng) for _ in range(NEW_DAYS)]
    return {
        "loss": _loss(whole, truths, true, days),
        "plain": _loss(plain, truths, true, days),
        **held,
    }


def _loss(model: ResponseModel, truths: list[Truth], true: Account, days: list) -> float:
    """Return the mean performance lost over new days in whole efforts, in % of the peak."""
    given_away = []
    for number, athlete in enumerate(truths):
        advised = np.array([model.responses_[f"A{number + 1:02d}"].advised_volume])
        for around in days:
            done = np.round(np.maximum(model.account_.volume_to_do(advised, around), 0.0))
            if not any(model.fit_.learned.shared.constants):
                done = advised
            given_away.append(athlete.loss_pct(float(true.volume_in_effect(done, around)[0])))
    return float(np.mean(given_away))


def main() -> None:
    """Run the squads and print two tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    found = pd.DataFrame(
        {"effect": effect, "seed": seed, **squad_result(seed, effect)}
        for effect in (True, False)
        for seed in range(asked.first, asked.first + asked.seeds)
    )
    by_effect = found.groupby("effect")[["loss", "plain"]].mean()
    by_effect["ratio"] = by_effect["loss"] / by_effect["plain"]
    print(table(by_effect.rename({True: "constants drawn", False: "no effect"})))
    print(table(_held(found[found["effect"]])))


def _held(found: pd.DataFrame) -> pd.DataFrame:
    """Return the shares of intervals that hold, each with its own interval."""
    names = [constant.name for constant in CONSTANTS]
    held = found[names].to_numpy(dtype=float)
    squads = len(held)
    rows = {}
    for name, of_constant in zip(names, held.T, strict=True):
        ends = binomtest(int(of_constant.sum()), squads).proportion_ci(method="wilson")
        rows[name] = (float(of_constant.mean()), float(ends.low), float(ends.high))
    middle = float(held.mean())
    reach = float(t.ppf(0.975, squads - 1) * sem(held.mean(axis=1)))
    rows["all"] = (middle, middle - reach, middle + reach)
    columns = ["share of 90 % intervals that hold", "from", "to"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns)


if __name__ == "__main__":
    main()
