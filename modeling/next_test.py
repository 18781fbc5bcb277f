"""What to test next: by how much one more session is expected to cut the loss from not knowing.

The athlete's posterior stands for what may be true. For each of many curves drawn from it a new
session is simulated, the draws are weighed again by the likelihood of what came out, and the best
volume under the new weights is looked up: the mean gain over today's advice is what the session
is worth (expected value of sample information; Raiffa & Schlaifer 1961). Level, drift and day of
the new session are integrated out, so a session tells by its contrasts and, as far as form is
known, by its height. The stop rule of a fade test depends on what was measured alone, so it does
not enter the likelihood.

References
----------
Raiffa & Schlaifer (1961), Applied Statistical Decision Theory, chapter 4.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.expectation import TailWeights
from modeling.fade import fade_is_over
from modeling.likelihood import SessionModel
from modeling.posterior import Posterior
from modeling.response import BEST, percent
from modeling.response_model import ResponseModel

__all__ = ["NextTest", "next_test", "next_tests", "session_worths"]

FloatArray = NDArray[np.float64]

DRAWS, TRUTHS = 240, 80
ROUTINE_EFFORTS = 3
MOST_EFFORTS = 120
MOST_SESSIONS = 12
SHARES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0)
"""Volumes of routine sessions that are weighed, as shares of the athlete's advised volume."""


@dataclass(frozen=True)
class NextTest:
    """The most telling next session of one athlete.

    Attributes
    ----------
    athlete : object
    kind : {"fade", "routine"}
    volume : float
        Volume in effect before the session's first effort; 0 for a fade test.
    worth_pct : float
        How much performance the session is expected to bring, by better advice.
    sessions_to_firm_call : int or None
        Such sessions until a firm call, in the middle of what may be true; None beyond 12.
    """

    athlete: object
    kind: str
    volume: float
    worth_pct: float
    sessions_to_firm_call: int | None


@dataclass(frozen=True)
class _Hypotheses:
    """Draws of an athlete's curve, with what is known of their form."""

    curves: FloatArray
    knots: FloatArray
    best: FloatArray
    level: FloatArray
    effort_sd: float
    session_sd: float

    def at(self, volume: FloatArray) -> FloatArray:
        """Give expected values of efforts: (n_efforts, n_draws)."""
        place = np.interp(volume, self.knots, np.arange(len(self.knots)))
        below = np.minimum(place.astype(int), len(self.knots) - 2)
        share = (place - below)[:, None]
        return self.curves[below] * (1.0 - share) + self.curves[below + 1] * share + self.level

    def log_likelihood(self, value: FloatArray, expected: FloatArray) -> FloatArray:
        """Log density of one session's efforts under each draw, but for the constant."""
        residual = value[:, None] - expected
        precision = self.effort_sd**-2.0
        shared = precision**2 / (self.session_sd**-2.0 + len(value) * precision)
        return -0.5 * (precision * (residual**2).sum(axis=0) - shared * residual.sum(axis=0) ** 2)

    def loss(self, weight: FloatArray) -> FloatArray:
        """Give the expected loss at the best volume under weights (..., n_draws), in %."""
        return -(weight @ percent(self.curves).T).max(axis=-1)


def next_tests(model: ResponseModel, athletes: Iterable[object]) -> list[NextTest]:
    """Give every athlete's most telling next session, most worth first."""
    found = [next_test(model, athlete) for athlete in athletes]
    return sorted(found, key=lambda each: -each.worth_pct)


def next_test(model: ResponseModel, athlete: object) -> NextTest:
    """Give one athlete's most telling next session."""
    worths = session_worths(model, athlete)
    kind, volume = max(worths, key=lambda each: worths[each])
    known = _hypotheses(model, athlete)
    return NextTest(
        athlete=athlete,
        kind=kind,
        volume=volume,
        worth_pct=worths[kind, volume],
        sessions_to_firm_call=_sessions_to_firm_call(model, athlete, known, kind, volume),
    )


def session_worths(
    model: ResponseModel, athlete: object, fade: bool = True
) -> dict[tuple[str, float], float]:
    """Work out what each kind of session is worth.

    Returns
    -------
    dict of (kind, volume) to float
        Expected gain in performance by better advice, in %; a hair below 0 only by simulation.
    """
    known = _hypotheses(model, athlete)
    now = float(known.loss(np.full(DRAWS, 1.0 / DRAWS)))
    advised = max(model.response(athlete).advised_volume, 2.0)
    volumes = sorted({float(np.round(share * advised)) for share in SHARES})
    designs = [("routine", volume) for volume in volumes] + [("fade", 0.0)] * fade
    worths = {}
    for kind, volume in designs:
        logs = _log_weights(known, kind, volume, np.random.default_rng(1))
        weight = np.exp(logs - logs.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        worths[kind, volume] = now - float(known.loss(weight).mean())
    return worths


def _hypotheses(model: ResponseModel, athlete: object) -> _Hypotheses:
    posterior = model.posterior(athlete)
    fit, noise = model.fit_, model.fit_.learned.noise
    cells = posterior.sample(DRAWS)
    level, level_variance = _level(model, posterior, cells)
    return _Hypotheses(
        curves=fit.curves(posterior, cells, model.volume_),
        knots=model.volume_,
        best=np.exp(posterior.coordinates(cells)[:, BEST]),
        level=level,
        effort_sd=noise.effort,
        session_sd=float(np.sqrt(noise.day**2 + noise.drift**2 + level_variance)),
    )


def _level(
    model: ResponseModel, posterior: Posterior, cells: NDArray[np.intp]
) -> tuple[FloatArray, float]:
    """Mean of the athlete's level under each draw, and its variance given the draw."""
    learned = model.fit_.learned
    variance = learned.level_sd**2
    rows = posterior.rows
    if rows is None:
        return np.zeros(len(cells)), variance
    even = TailWeights.even(rows)
    session = SessionModel.of(rows, learned.noise, learned.level_sd, even.effort, even.day)
    residual = learned.centred(rows)[:, None] - model.fit_.curves(posterior, cells, rows.volume)
    pull = session.precision_times(residual).sum(axis=0)
    certain = float(session.precision_times(np.ones(rows.efforts)).sum())
    return variance * pull, max(variance - variance**2 * certain, 0.0)


def _log_weights(
    known: _Hypotheses, kind: str, volume: float, rng: np.random.Generator
) -> FloatArray:
    """Simulate one session under each of some draws; log likelihoods (n_truths, n_draws)."""
    efforts = ROUTINE_EFFORTS if kind == "routine" else MOST_EFFORTS
    expected = known.at(volume + np.arange(efforts, dtype=float))
    truths = np.linspace(0, DRAWS - 1, TRUTHS).astype(int)
    noise = known.effort_sd * rng.standard_normal((efforts, TRUTHS))
    value = expected[:, truths] + known.session_sd * rng.standard_normal(TRUTHS) + noise
    logs = np.empty((TRUTHS, DRAWS))
    for i in range(TRUTHS):
        done = efforts if kind == "routine" else _stop(value[:, i])
        logs[i] = known.log_likelihood(value[:done, i], expected[:done])
    return logs


def _stop(log_value: FloatArray) -> int:
    value = np.exp(log_value).tolist()
    for done in range(3, len(value)):
        if fade_is_over(value[:done]):
            return done
    return len(value)


def _sessions_to_firm_call(
    model: ResponseModel, athlete: object, known: _Hypotheses, kind: str, volume: float
) -> int | None:
    """Repeat the session until a call is firm, under each of some draws."""
    standard = np.array([model.standard_volume_])
    loss = -percent(known.at(standard)[0] - known.level)
    matters = loss > model.worthwhile_pct
    short = matters & (known.best < standard)
    groups = np.stack([short, matters & ~short, ~matters]).astype(float)
    if model.response(athlete).call != "not known":
        return 0
    rng = np.random.default_rng(2)
    logs = np.zeros((TRUTHS, DRAWS))
    needed = np.full(TRUTHS, MOST_SESSIONS + 1)
    for session in range(1, MOST_SESSIONS + 1):
        logs += _log_weights(known, kind, volume, rng)
        weight = np.exp(logs - logs.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        firm = (weight @ groups.T).max(axis=1) >= model.firm_chance
        needed = np.minimum(needed, np.where(firm, session, MOST_SESSIONS + 1))
    middle = int(np.median(needed))
    return middle if middle <= MOST_SESSIONS else None
