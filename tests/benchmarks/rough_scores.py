"""Fits and scores one rough squad, with a line for every athlete.

A best volume that moves is judged by its median, because the truths of such a squad are those of
the median session.
"""

from __future__ import annotations

from time import process_time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling import ResponseModel
from modeling.answers.response import Response
from modeling.testing.simulation import Truth
from tests.benchmarks.held_out import Split, mean_curve
from tests.benchmarks.model_scores import athlete_scores, squad_scores
from tests.benchmarks.peers import OwnModel, Peer, fit_peer
from tests.benchmarks.rough_kinds import Kind
from tests.benchmarks.scores import Advice, scores_of
from tests.benchmarks.side_by_side import PEERS as SIDE_BY_SIDE
from tests.benchmarks.squads import OWN_FAMILY, STANDARD, WORTHWHILE_PCT, population_log_sd

__all__ = ["FAR_BEYOND", "PEERS", "score_squad"]

FloatArray = NDArray[np.float64]

PEERS: dict[str, type[Peer]] = {kind.name: kind for kind in SIDE_BY_SIDE if kind is not OwnModel}
"""Other ways that can run on the same squads."""

FAR_BEYOND = 1.25
"""Best volumes and advice above this multiple of the most tried count as far beyond it."""

ERRORS = ("error", "mean_curve_error", "no_curve_error")
"""Squared errors of prediction where volume has next to no effect."""

STEPS = 12
"""How many volumes a curve is compared with the true one at."""


def score_squad(kind: Kind, seed: int, part: int, peer: str) -> list[dict[str, object]]:
    """Draw a squad, fit it with the response model or a peer, and score the answers."""
    truths, frame = kind.draw(seed, part)
    key: dict[str, object] = {
        "peer": peer,
        "kind": kind.name,
        "seed": seed,
        "part": part,
        "athletes": len(truths),
    }
    codes = sorted(frame["athlete"].unique())
    facts = [
        {
            "athlete": code,
            "shape": truth.shape,
            "responds": float(truth.gain > 0),
            "standard_loss_pct": truth.loss_pct(STANDARD),
        }
        for code, truth in zip(codes, truths, strict=True)
    ]
    if peer == OwnModel.name:
        scores = _own_scores(kind, truths, frame, seed)
    else:
        fitted = fit_peer(PEERS[peer], frame)
        scores = [
            scores_of(truth, fitted.advice.get(code, Advice(np.nan)))
            | {"seconds": fitted.seconds, "note": fitted.note}
            for truth, code in zip(truths, codes, strict=True)
        ]
    return [key | fact | score for fact, score in zip(facts, scores, strict=True)]


def _own_scores(
    kind: Kind, truths: list[Truth], frame: pd.DataFrame, seed: int
) -> list[dict[str, object]]:
    model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT)
    began = process_time()
    model.fit(frame, frame["value"])
    seconds = process_time() - began
    squad = squad_scores(truths, model, population_log_sd(OWN_FAMILY if kind.own_family else ""))
    errors = _errors(truths, frame, model) if kind.weak else dict.fromkeys(ERRORS, np.nan)
    rng = np.random.default_rng(seed)
    return [
        athlete_scores(truth, model.responses_[code], rows)
        | length_scores(truth, model.responses_[code], float(rows["volume"].max()), rng)
        | {"seconds": seconds, "note": "", **squad, **errors}
        for truth, (code, rows) in zip(truths, frame.groupby("athlete"), strict=True)
    ]


def length_scores(
    athlete: Truth, response: Response, most: float, rng: np.random.Generator
) -> dict[str, object]:
    """Score the length, the good range, and whether answers are far beyond the most tried.

    The length is the standard, unless the call is short or long. A random volume inside the good
    range is drawn uniformly. Where there is no good range, none is scored.
    """
    advised = response.advised_volume
    length = advised if response.call in ("short", "long") else STANDARD
    low, high = (
        np.nan if end is None else float(end)
        for end in (getattr(response, name, None) for name in ("good_from", "good_to"))
    )
    inside = low + (high - low) * rng.random()
    best = response.best_volume
    return {
        "advised": advised,
        "length_loss_pct": athlete.loss_pct(length),
        "best_low": best.low,
        "best_median": best.median,
        "best_high": best.high,
        "best_true": athlete.best_volume if athlete.gain > 0 else np.nan,
        "good_from": low,
        "good_to": high,
        **{
            f"good_{name}_loss_pct": athlete.loss_pct(at) if np.isfinite(at) else np.nan
            for name, at in (("from", low), ("to", high), ("inside", inside))
        },
        "far_beyond": float(max(best.median, advised) > FAR_BEYOND * most),
        "told_beyond": float(response.reach == "beyond"),
    }


def _errors(truths: list[Truth], frame: pd.DataFrame, model: ResponseModel) -> dict[str, float]:
    """Return mean squared errors, in %, of predicted differences from a session's mean.

    They are those of the response model, of one curve for all (the mean at each volume), and of no
    curve.
    """
    codes = sorted(frame["athlete"].unique())
    volume = np.linspace(0.0, float(frame["volume"].max()), STEPS)
    true = np.array([athlete.change(volume) for athlete in truths])
    split = Split(
        known=frame.assign(y=np.log(frame["value"])),
        athlete=np.repeat(np.array(codes, dtype=object), STEPS),
        group=np.repeat(np.array(codes, dtype=object), STEPS),
        volume=np.tile(volume, len(codes)),
        against=[volume] * (STEPS * len(codes)),
        overlap=True,
        difference=_within(true).ravel(),
    )
    said = np.array(
        [
            np.log1p(np.interp(volume, curve.volume, curve.change_pct) / 100.0)
            for curve in (model.responses_[code].curve for code in codes)
        ]
    )
    expected = _within(said).ravel(), mean_curve(split).expected, np.zeros(len(split.difference))
    squares = [float((100.0**2 * (each - split.difference) ** 2).mean()) for each in expected]
    return dict(zip(ERRORS, squares, strict=True))


def _within(change: FloatArray) -> FloatArray:
    return change - change.mean(axis=1, keepdims=True)
