"""Faults in the numbers that a fit shows: not finite, or outside their own interval."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields, is_dataclass
from typing import Any

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.answers.response import Curve, Response
from modeling.answers.squad import Squad
from modeling.curve.account import Account
from modeling.curve.length import Limits
from modeling.estimate import Estimate

__all__ = ["faults_of_fold", "faults_of_model"]

HAIR = 1e-9
"""The most that rounding may add to a share of 1 or a change of 0, as a share."""


def faults_of_model(model: ResponseModel, rows: pd.DataFrame) -> list[str]:
    """Name every faulty number that a fit shows; `rows` is the table that was fitted."""
    found = [f"squad: {fault}" for fault in _faults_of_squad(model.squad_)]
    for athlete, response in {**model.responses_, None: model.response(None)}.items():
        found += [f"{athlete}: {fault}" for fault in faults_of_response(response)]
        draws = model.draws(athlete)
        found += [f"{athlete}: draws.{fault}" for fault in _not_finite(draws)]
    predicted = model.predict(rows)
    found += [] if np.all(np.isfinite(predicted) & (predicted > 0)) else ["predictions"]
    if set(model.responses_) != set(rows["athlete"]):
        found.append("not everybody has a response")
    return found


def faults_of_fold(model: ResponseModel, rows: pd.DataFrame) -> list[str]:
    """Fold one athlete's rows into what the model learned, and name the faults of the result."""
    fold = ResponseModel.from_learned(model.learned_json()).fold_in(rows, rows["value"])
    found = list(faults_of_response(fold.response))
    for session, peak in fold.peaks.items():
        found += [f"peak of {session}: {fault}" for fault in _faults_of_estimate(peak)]
    return found + list(_not_finite(fold.residuals_pct, "residuals"))


def faults_of_response(response: Response) -> Iterator[str]:
    """Name what is wrong with one athlete's response."""
    yield from _not_finite(response)
    yield from _faults_of_estimates(response)
    chances = [response.chance_short, response.chance_long, response.chance_either]
    if min(chances) < 0 or abs(sum(chances) - 1.0) > HAIR:
        yield f"chances {chances}"
    low, high = response.best_volume_half
    best = response.best_volume
    if not best.low <= low <= best.median <= high <= best.high:
        yield f"best_volume_half {low, high} of {best}"
    for name in ("best_volume", "gain_pct", "hold_volume", "loss_at_standard_pct"):
        if getattr(response, name).low < 0:
            yield f"{name} below 0"
    if response.advised_volume not in response.curve.volume:
        yield f"advised_volume {response.advised_volume}"
    if any(value <= 0 for value in response.session_peaks.values()):
        yield "session_peaks"
    yield from _faults_of_curve(response.curve)


def _faults_of_squad(squad: Squad) -> Iterator[str]:
    yield from _not_finite(squad)
    yield from _faults_of_estimates(squad)
    yield from _faults_of_curve(squad.curve)
    if not 0.0 <= squad.chance_athletes_differ <= 1.0:
        yield f"chance_athletes_differ {squad.chance_athletes_differ}"
    for worth in (squad.against_single, squad.against_standard):
        yield from _faults_of_estimates(worth)
        if not 0 <= worth.gaining.low <= worth.gaining.high <= worth.athletes:
            yield f"gaining {worth}"


def _faults_of_curve(curve: Curve) -> Iterator[str]:
    if np.any(curve.change_pct < curve.change_pct_low - HAIR):
        yield "curve below its band"
    if np.any(curve.change_pct > curve.change_pct_high + HAIR):
        yield "curve above its band"
    if np.any(curve.change_pct_high > HAIR) or np.any(curve.change_pct_low < -100.0):
        yield "band outside -100 to 0"
    if np.any(np.diff(curve.volume) <= 0):
        yield "volumes of the curve"


def _faults_of_estimates(holder: Any) -> Iterator[str]:
    for each in fields(holder):
        value = getattr(holder, each.name)
        if isinstance(value, Estimate):
            yield from (f"{each.name} {fault}" for fault in _faults_of_estimate(value))


def _faults_of_estimate(estimate: Estimate) -> Iterator[str]:
    if not estimate.low <= estimate.median <= estimate.high:
        yield f"outside its interval: {estimate}"


def _not_finite(value: Any, name: str = "") -> Iterator[str]:
    """Name every number that is not finite, at any depth."""
    if isinstance(value, Limits):
        # A limit that nobody has set is infinite, which is no fault.
        yield from _not_finite(not np.isnan(value.most_done + value.most_allowed), name)
    elif is_dataclass(value) and not isinstance(value, Account):
        for each in fields(value):
            yield from _not_finite(getattr(value, each.name), f"{name}.{each.name}".strip("."))
    elif isinstance(value, Account):
        # An infinite half-life means that rest has no effect, which is no fault.
        yield from _not_finite({**asdict(value), "half_life_minutes": 0.0}, name)
    elif isinstance(value, Mapping):
        for key, each in value.items():
            yield from _not_finite(each, f"{name}[{key}]")
    elif isinstance(value, tuple):
        for each in value:
            yield from _not_finite(each, name)
    elif isinstance(value, float | np.ndarray) and not np.all(np.isfinite(value)):
        yield f"{name} is not finite"
