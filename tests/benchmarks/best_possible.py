"""The least that any method can lose, on average, on the simulated squads.

    python -m tests.benchmarks.best_possible --rows habit --seeds 6

A method that knows the true shape, the distribution of the squad's curves and the sizes of all
noise, and then advises by Bayes' rule, loses the least on average (the Bayes risk; Berger 1985,
Statistical Decision Theory, section 1.5). We work it out by weighting many drawn curves by their
likelihood, with the level integrated out. Where efforts say a lot, few of the drawn curves count
and the figure is too high; the smallest number that counted is printed beside it.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling.testing.simulation import Noise, simulated_truths
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import BEST, BEST_LOG_SD, ROWS, SHAPES, draw_squad

__all__ = ["Weighed", "main", "weigh"]

FloatArray = NDArray[np.float64]

LEVEL, LEVEL_LOG_SD = 40.0, 0.12
VOLUME = np.arange(0.0, 151.0)
CURVES = 20_000
SEED = 987


@dataclass(frozen=True)
class Weighed:
    """The advised volume, and how many of the drawn curves counted (Kish's effective size)."""

    advised: float
    counted: float


def weigh(curves: FloatArray, rows: pd.DataFrame, noise: Noise) -> Weighed:
    """Advise one athlete from candidate curves that are all equally likely beforehand.

    Parameters
    ----------
    curves : array of shape (n_curves, n_volumes)
        Log change from the peak after 0, 1, 2 ... efforts.
    rows : DataFrame
        Columns session, volume (whole, within the curves) and value.
    noise : Noise
        The true sizes of the noise.
    """
    session = rows["session"].to_numpy()
    value = np.log(rows["value"].to_numpy() / LEVEL)
    covariance = LEVEL_LOG_SD**2 + noise.day**2 * (session[:, None] == session)
    covariance = covariance + noise.effort**2 * np.eye(len(value))
    root = np.linalg.cholesky(np.linalg.inv(covariance))
    apart = (value - curves[:, rows["volume"].to_numpy().astype(int)]) @ root
    log_likelihood = -0.5 * (apart**2).sum(axis=1)
    weight = np.exp(log_likelihood - log_likelihood.max())
    weight /= weight.sum()
    return Weighed(float(np.argmax(weight @ np.exp(curves))), 1.0 / float((weight**2).sum()))


def _losses(row: str, shape: str, seeds: int) -> pd.DataFrame:
    drawn = np.random.default_rng(SEED)
    truths = simulated_truths(shape, CURVES, drawn, best=BEST, best_log_sd=BEST_LOG_SD)
    curves = np.array([each.change(VOLUME) for each in truths])
    lines = []
    for seed in range(1, seeds + 1):
        squad, frame = draw_squad(row, shape, seed)
        for athlete, (_, rows) in zip(squad, frame.groupby("athlete"), strict=True):
            weighed = weigh(curves, rows, ROWS[row].noise)
            lines.append((athlete.loss_pct(weighed.advised), weighed.counted))
    return pd.DataFrame(lines, columns=["loss", "counted"])


def main() -> None:
    """Work out the rows asked for, and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", nargs="+", choices=list(ROWS), default=["habit"])
    parser.add_argument("--seeds", type=int, default=6, help="squads of each shape")
    asked = parser.parse_args()
    shapes = SHAPES[:-1]
    lines = {}
    for row in asked.rows:
        losses = {shape: _losses(row, shape, asked.seeds) for shape in shapes}
        each = pd.concat(losses.values())
        lines[ROWS[row].title] = {
            **{shape: found["loss"].mean() for shape, found in losses.items()},
            "all": each["loss"].mean(),
            "standard error": each["loss"].sem(),
            "fewest that counted": f"{each['counted'].min():.0f}",
        }
    print(table(pd.DataFrame.from_dict(lines, orient="index"), "{:.3f}"))


if __name__ == "__main__":
    main()
