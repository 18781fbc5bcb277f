"""How often the intervals of `ResponseModel.predict` hold what comes later.

    python -m tests.benchmarks.predicted_shares --seeds 12 --twitch path/to/twitch_efforts.csv

Simulated squads train and are tested in circumstances of every kind. We predict later sessions of
athletes that the fit has seen, and of some that it has not. Real efforts are held out as in
`held_out`: a pitcher's whole games, and two of eight sets of twitches.
"""

from __future__ import annotations

import argparse
import warnings
from collections.abc import Iterator

import numpy as np
import pandas as pd

from modeling import Circumstances, ResponseModel, SquadGuessWarning
from modeling.curve.account import Account
from modeling.testing.simulation import (
    Noise,
    Protocol,
    Surroundings,
    Truth,
    simulate_squad,
    simulated_truths,
    volumes_in_effect,
)
from tests.benchmarks.held_out import FOLDS, pitches, twitches
from tests.benchmarks.markdown import table

FACTS = ["general_minutes", "rest_minutes", "ambient_c", "hour"]
UNSEEN = 4
"""Athletes of a simulated squad who are left out of the fit."""


def _around(rng: np.random.Generator) -> Circumstances:
    return Circumstances(
        rng.uniform(0, 15), rng.uniform(0, 20), rng.uniform(5, 30), rng.uniform(8, 20)
    )


SURROUNDINGS = Surroundings(Account(), _around)


def shares_held(predicted: pd.DataFrame, value: pd.Series, what: str) -> pd.Series:
    """Mark the values that lie in their interval."""
    return value.between(predicted[f"{what}_low"], predicted[f"{what}_high"])


def simulated(seed: int, athletes: int = 14, routine: int = 8, later: int = 6) -> dict[str, float]:
    """Fit all but four athletes of a squad, and predict some later sessions of everybody."""
    rng = np.random.default_rng(seed)
    shape = "Ricker" if seed % 2 else "saturating less linear"
    truths, noise = simulated_truths(shape, athletes, rng), Noise(spoiled_share=0.03)
    known = simulate_squad(truths, Protocol(1, routine), noise, rng, SURROUNDINGS)
    to_come = simulate_squad(truths, Protocol(0, later), noise, rng, SURROUNDINGS)
    to_come = to_come.assign(
        session="later " + to_come["session"], day=to_come["day"] + known["day"].max() + 7.0
    )
    last = f"A{athletes - UNSEEN:02d}"
    known, seen = known[known["athlete"] <= last], to_come["athlete"] <= last
    model = ResponseModel(standard_volume=15, unknown="squad").fit(known, known["value"])
    told, half = model.predict(to_come, interval=0.9), model.predict(to_come, interval=0.5)
    true = pd.concat([_true(truths, rows) for _, rows in to_come.groupby("session", sort=False)])
    effort, average = (
        shares_held(told, value, what)
        for value, what in ((to_come["value"], "effort"), (true, "average"))
    )
    return {
        "single efforts, 90 %": effort[seen].mean(),
        "single efforts, 50 %": shares_held(half, to_come["value"], "effort")[seen].mean(),
        "average days, 90 %": average[seen].mean(),
        "new athletes' efforts, 90 %": effort[~seen].mean(),
        "new athletes' average days, 90 %": average[~seen].mean(),
    }


def _true(truths: list[Truth], rows: pd.DataFrame) -> pd.Series:
    athlete = truths[int(rows["athlete"].iloc[0][1:]) - 1]
    effect = volumes_in_effect(Account(), Circumstances(*rows[FACTS].iloc[0].tolist()))
    change = athlete.change(effect(rows["volume"].to_numpy()))
    return pd.Series(athlete.level * np.exp(change), rows.index)


def real(efforts: pd.DataFrame, held: Iterator[pd.Series]) -> dict[str, float]:
    """Predict the held-out efforts from the rest, several times."""
    value = np.exp(efforts["y"])
    found = []
    for out in held:
        model = ResponseModel().fit(efforts[~out], value[~out])
        found.append(
            [
                shares_held(
                    model.predict(efforts[out], interval=share), value[out], "effort"
                ).mean()
                for share in (0.9, 0.5)
            ]
        )
    ninety, half = np.mean(found, axis=0)
    return {"single efforts, 90 %": ninety, "single efforts, 50 %": half}


def games(efforts: pd.DataFrame) -> Iterator[pd.Series]:
    """Hold out each fifth of a pitcher's games."""
    order = np.random.default_rng(0).permutation(efforts["session"].unique())
    yield from (efforts["session"].isin(order[fold::FOLDS]) for fold in range(FOLDS))


def sets(efforts: pd.DataFrame, repeats: int) -> Iterator[pd.Series]:
    """Hold out two sets of each person at random."""
    for repeat in range(repeats):
        order = np.random.default_rng(repeat).permutation(len(efforts))
        out = efforts.iloc[order].groupby("athlete").head(2).index
        yield pd.Series(efforts.index.isin(out), efforts.index)


def main() -> None:
    """Print the shares of values in their intervals."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=12, help="simulated squads")
    parser.add_argument("--twitch", metavar="FILE", help="the twitch rates, as an efforts file")
    asked = parser.parse_args()
    warnings.simplefilter("ignore", SquadGuessWarning)
    lines = {
        "simulated squads": pd.DataFrame(map(simulated, range(asked.seeds))).mean().to_dict(),
        "a pitcher's games": real(pitches(), games(pitches())),
    }
    if asked.twitch is not None:
        efforts = twitches(asked.twitch)
        lines["twitch rates"] = real(efforts, sets(efforts, 4))
    print(table(pd.DataFrame.from_dict(lines, orient="index").round(3)))


if __name__ == "__main__":
    main()
