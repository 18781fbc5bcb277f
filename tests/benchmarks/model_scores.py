"""What the response model says about a simulated squad, against the known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd

from modeling import Estimate, ResponseModel
from modeling.answers.response import Response
from modeling.testing.simulation import Truth
from tests.benchmarks.peers import advice_of, usual_volume
from tests.benchmarks.scores import covers, hold_range, scores_of
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = ["INTERVALS", "athlete_scores", "squad_scores"]

INTERVALS = ["best", "gain", "hold"]
"""Intervals that are judged for every athlete."""

SHOWN_PCT = 0.05
"""Half of the last digit that pages show for the worth of own lengths."""


def athlete_scores(athlete: Truth, response: Response, rows: pd.DataFrame) -> dict[str, object]:
    """Score what is said about one athlete, whose efforts are `rows`."""
    usual = usual_volume(rows)
    gain = 100.0 * np.expm1(athlete.gain)
    judged = athlete.gain > 0
    return scores_of(athlete, advice_of(response)) | {
        "usual_loss_pct": athlete.loss_pct(usual) if np.isfinite(usual) else np.nan,
        "gain": _met(response.gain_pct, (gain, gain)) if judged else np.nan,
        "hold": _met(response.hold_volume, hold_range(athlete)) if judged else np.nan,
    }


def squad_scores(
    truths: list[Truth], model: ResponseModel, population_log_sd: float
) -> dict[str, object]:
    """Score what is said about a squad.

    Parameters
    ----------
    truths : list of Truth
        In the order of the model's responses.
    model : ResponseModel
    population_log_sd : float
        Spread of log best volume in the population that the athletes were drawn from. Spread and
        worth over the standard are judged only if volume has an effect for two athletes or more.
    """
    squad = model.squad_
    advised = [r.advised_volume for r in model.responses_.values()]
    single = _mean_loss(truths, [squad.best_single_volume] * len(truths))
    achieved = single - _mean_loss(truths, advised)
    over_standard = _gains(truths, advised)
    gaining = float((over_standard > WORTHWHILE_PCT).sum())
    standard = squad.against_standard
    possible = min(_mean_loss(truths, [v] * len(truths)) for v in np.arange(0.0, 121.0))
    responding = [athlete.best_volume for athlete in truths if athlete.gain > 0]
    judged = len(responding) > 1
    sample = float(np.log(responding).std(ddof=1)) if judged else np.nan
    worth, spread = squad.worth_of_individual_pct, squad.spread_log_sd
    return {
        "worth": _met(worth, _shown(achieved)),
        "worth_possible": _met(worth, _shown(possible)),
        "worth_standard": (
            _met(standard.worth_pct, _shown(float(over_standard.mean()))) if judged else np.nan
        ),
        "over_standard_median": standard.worth_pct.median,
        "gaining": _met(standard.gaining, (gaining, gaining)),
        "worth_median": worth.median,
        "worth_true": achieved,
        "spread_population": (
            _met(spread, (population_log_sd, population_log_sd)) if judged else np.nan
        ),
        "spread_sample": _met(spread, (sample, sample)) if judged else np.nan,
        "spread_median": spread.median,
        "spread_true": sample,
        "differ": squad.chance_athletes_differ,
    }


def _met(said: Estimate, true: tuple[float, float]) -> float:
    return float(covers((said.low, said.high), true))


def _shown(worth_pct: float) -> tuple[float, float]:
    return worth_pct - SHOWN_PCT, worth_pct + SHOWN_PCT


def _gains(truths: list[Truth], advised: list[float]) -> np.ndarray:
    """Return what each advised volume gains over the standard, in % of the peak."""
    pairs = zip(truths, advised, strict=True)
    return np.array([athlete.loss_pct(STANDARD) - athlete.loss_pct(v) for athlete, v in pairs])


def _mean_loss(truths: list[Truth], volumes: list[float]) -> float:
    return float(np.mean([a.loss_pct(v) for a, v in zip(truths, volumes, strict=True)]))
