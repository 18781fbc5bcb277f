"""What to test next: by how much more sessions are expected to cut the loss from not knowing.

The athlete's posterior stands for what may be true. For each of many curves drawn from it new
sessions are simulated, the draws are weighed again by the likelihood of what came out, and the
best volume under the new weights is looked up: the mean gain over today's advice is what the
sessions are worth (expected value of sample information; Raiffa & Schlaifer 1961). Level, drift
and day are integrated out, so a session tells by its contrasts and, as far as form is known, by
its height. The stop rule of a fade test depends on what was measured alone, so it does not enter
the likelihood.

One routine session rarely changes an advice by itself, several together do: the value of
information is not concave. Routine sessions are therefore weighed as campaigns at two volumes, and
one session is worth its share of the best campaign (after Frazier & Powell 2010).

References
----------
Frazier & Powell (2010), Paradoxes in learning and the marginal value of information, Decision
Analysis 7, 378-403.
Raiffa & Schlaifer (1961), Applied Statistical Decision Theory, chapter 4.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from modeling.curve_draws import ADVICE_DRAWS, CurveDraws
from modeling.estimate import percent
from modeling.expectation import TailWeights
from modeling.fade import IN_A_ROW, SHARE
from modeling.likelihood import SessionModel
from modeling.posterior import Posterior
from modeling.response_model import ResponseModel

__all__ = ["NextTest", "campaign_worths", "fade_worth", "next_tests"]

FloatArray = NDArray[np.float64]

TRUTHS = 100
ROUTINE_EFFORTS = 3
MOST_FADE_EFFORTS = 120
MOST_SESSIONS = {"fade": 4, "routine": 12}
OFFERED_VOLUMES = 40
CAMPAIGN = 6
"""Routine sessions of a campaign, half of them at either volume."""

SHARES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0)
"""Volumes of routine sessions that are weighed, as shares of the athlete's advised volume."""


@dataclass(frozen=True)
class NextTest:
    """The most telling next session of one kind of one athlete.

    Attributes
    ----------
    athlete : object
    kind : {"fade", "routine"}
    volume : float
        Volume in effect before the session's first effort; 0 for a fade test.
    worth_pct : float
        How much performance the session is expected to bring by better advice.
    sessions_to_firm_call : int or None
        Such sessions until a call is firm with a chance of a half; 0 where it is; None beyond
        `MOST_SESSIONS`.
    """

    athlete: object
    kind: str
    volume: float
    worth_pct: float
    sessions_to_firm_call: int | None


@dataclass(frozen=True)
class _Known:
    """What may be true of an athlete: draws of the curve, with what is known of their form.

    `level` is the mean of the level under each draw; `offered` what each draw has at volumes that
    may be advised, in %: (n_draws, n_volumes).
    """

    curve: CurveDraws
    level: FloatArray
    level_variance: float
    effort_sd: float
    session_variance: float
    offered: FloatArray
    stop_share: float = SHARE

    @property
    def truths(self) -> NDArray[np.intp]:
        """Draws that sessions are simulated under."""
        draws = len(self.level)
        return np.linspace(0, draws - 1, min(TRUTHS, draws)).astype(int)

    def expected(self, volume: FloatArray) -> FloatArray:
        """Give expected log values of efforts: (n_efforts, n_draws)."""
        return self.curve.at(volume) + self.level

    def worth(self, logs: FloatArray) -> float:
        """Give the expected gain by new weights over today's best volume, in %; never below 0."""
        by_volume = _weights(logs) @ self.offered
        today = int(self.offered.mean(axis=0).argmax())
        return float((by_volume.max(axis=1) - by_volume[:, today]).mean())


def _weights(logs: FloatArray) -> FloatArray:
    """Weights of the draws (n_truths, n_draws) by their log likelihoods."""
    weight = np.exp(logs - logs.max(axis=1, keepdims=True))
    return weight / weight.sum(axis=1, keepdims=True)


def next_tests(
    model: ResponseModel, athletes: Iterable[object], stop_share: float = SHARE
) -> list[NextTest]:
    """Give every athlete's most telling fade test and routine session, most worth first.

    `stop_share` is that of the stop rule of a fade test (`modeling.fade`).
    """
    # The matrices are small: threads of the linear algebra would only wait for each other.
    with threadpool_limits(1):
        found = [test for athlete in athletes for test in _tests_of(model, athlete, stop_share)]
    return sorted(found, key=lambda each: -each.worth_pct)


def _tests_of(model: ResponseModel, athlete: object, stop_share: float) -> list[NextTest]:
    known = _known(model, athlete, stop_share)
    worths = campaign_worths(model, athlete, known)
    pair = max(worths, key=lambda each: worths[each])
    volume = max(pair, key=lambda each: float(np.var(known.expected(np.array([each])))))
    firm = model.response(athlete).call != "not known"
    found = (("fade", 0.0, fade_worth(known)), ("routine", volume, worths[pair]))
    return [
        NextTest(
            athlete=athlete,
            kind=kind,
            volume=before,
            worth_pct=worth,
            sessions_to_firm_call=0 if firm else _sessions_to_firm_call(model, known, kind, before),
        )
        for kind, before, worth in found
    ]


def _known(model: ResponseModel, athlete: object, stop_share: float = SHARE) -> _Known:
    posterior, noise = model.posterior(athlete), model.fit_.learned.noise
    curve = model.draws(athlete)
    level, level_variance = _level(model, posterior)
    peaks = curve.change.argmax(axis=0)
    between = np.arange(peaks.min(), peaks.max() + 1)
    offered = between[:: 1 + len(between) // OFFERED_VOLUMES]
    return _Known(
        curve=curve,
        level=level,
        level_variance=level_variance,
        effort_sd=noise.effort,
        session_variance=noise.day**2 + noise.drift**2 + noise.session_curve**2,
        offered=np.ascontiguousarray(percent(curve.change[offered]).T),
        stop_share=stop_share,
    )


def _level(model: ResponseModel, posterior: Posterior) -> tuple[FloatArray, float]:
    """Mean of the athlete's level under each draw, and its variance given the draw."""
    learned, rows = model.fit_.learned, posterior.rows
    variance = learned.level_sd**2
    if rows is None:
        return np.zeros(ADVICE_DRAWS), variance
    even = TailWeights.even(rows)
    # Deviations are in the curves drawn.
    noise = replace(learned.noise, curve=0.0)
    spots = model.fit_.spots(rows)
    session = SessionModel.of(spots, noise, learned.level_sd, even.effort, even.day)
    drawn = model.sample_curves(rows.athlete, rows.volume, ADVICE_DRAWS)
    residual = learned.centred(rows)[:, None] - drawn
    pull = session.precise_one @ residual
    certain = float(session.precise_one.sum())
    return variance * pull, max(variance - variance**2 * certain, 0.0)


def campaign_worths(
    model: ResponseModel, athlete: object, known: _Known | None = None
) -> dict[tuple[float, float], float]:
    """Work out what routine sessions at two volumes are worth, each its share of a campaign.

    Returns
    -------
    dict of (volume, volume) to float
        Expected gain in performance by better advice, in % a session.
    """
    known = known or _known(model, athlete)
    advised = max(model.response(athlete).advised_volume, 2.0)
    volumes = sorted({float(np.round(share * advised)) for share in SHARES})
    return {
        pair: known.worth(_routine_logs(known, pair, CAMPAIGN // 2)) / CAMPAIGN
        for pair in combinations_with_replacement(volumes, 2)
    }


def _routine_logs(known: _Known, volumes: Sequence[float], sessions: int) -> FloatArray:
    """Log likelihoods (n_truths, n_draws) of what so many sessions at each volume may show."""
    place = np.repeat(np.arange(len(volumes)), ROUTINE_EFFORTS)
    volume = np.repeat(volumes, ROUTINE_EFFORTS) + np.tile(np.arange(ROUTINE_EFFORTS), len(volumes))
    # Of the means over sessions at one volume, which hold all that they tell of the curve.
    own = known.session_variance * (place[:, None] == place)
    own[np.diag_indices_from(own)] += known.effort_sd**2
    covariance = known.level_variance + own / sessions
    # In units in which what is measured has independent noise of size 1.
    white = np.linalg.solve(np.linalg.cholesky(covariance), known.expected(volume))
    truths = known.truths
    # The same noise for every plan, so that plans differ by what they are.
    noise = np.random.default_rng(1).standard_normal((len(volume), len(truths)))
    shown = white[:, truths] + noise
    return shown.T @ white - 0.5 * (white**2).sum(axis=0)


def fade_worth(known: _Known) -> float:
    """Work out what one fade test is worth, in %."""
    return known.worth(_fade_logs(known, np.random.default_rng(1)))


def _fade_logs(known: _Known, rng: np.random.Generator) -> FloatArray:
    """Log likelihoods (n_truths, n_draws) of what a fade test may show."""
    expected = known.expected(np.arange(MOST_FADE_EFFORTS, dtype=float))
    truths = known.truths
    sd = np.sqrt(known.session_variance + known.level_variance)
    value = expected[:, truths] + sd * rng.standard_normal(len(truths))
    value += known.effort_sd * rng.standard_normal(value.shape)
    return _first_efforts_logs(known, expected, value, _efforts_made(value, known.stop_share))


def _first_efforts_logs(
    known: _Known, expected: FloatArray, value: FloatArray, efforts: NDArray[np.intp]
) -> FloatArray:
    """Log likelihoods (n_truths, n_draws) of the first efforts of one session, but for a constant.

    `expected` is (n_efforts, n_draws), `value` (n_efforts, n_truths), `efforts` (n_truths,).
    """
    most = int(efforts.max())
    made = (np.arange(most)[:, None] < efforts).astype(float)
    expected, value = expected[:most], value[:most] * made
    precision = known.effort_sd**-2.0
    of_session = 1.0 / (known.session_variance + known.level_variance)
    shared = precision**2 / (of_session + efforts * precision)
    squares = made.T @ expected**2 - 2.0 * value.T @ expected
    total = value.sum(axis=0)[:, None] - made.T @ expected
    return -0.5 * (precision * squares - shared[:, None] * total**2)


def _efforts_made(log_value: FloatArray, share: float = SHARE) -> NDArray[np.intp]:
    """Efforts until the stop rule of a fade test (`fade`), for each column of log values."""
    low = log_value < np.maximum.accumulate(log_value, axis=0) + np.log(share)
    row = np.all([low[i : len(low) - IN_A_ROW + 1 + i] for i in range(IN_A_ROW)], axis=0)
    return np.where(row.any(axis=0), row.argmax(axis=0) + IN_A_ROW, len(log_value))


def _sessions_to_firm_call(
    model: ResponseModel, known: _Known, kind: str, volume: float
) -> int | None:
    """Repeat the session until a call is firm under half of the truths."""
    standard = np.array([model.standard_volume_])
    matters = -percent(known.curve.at(standard)[0]) > model.worthwhile_pct
    short = matters & (known.curve.peaks() < standard)
    groups = np.stack([short, matters & ~short, ~matters], axis=1).astype(float)
    rng = np.random.default_rng(2)
    logs = np.zeros((len(known.truths), len(known.level)))
    for sessions in range(1, MOST_SESSIONS[kind] + 1):
        if kind == "fade":
            logs += _fade_logs(known, rng)
        else:
            logs = _routine_logs(known, [volume], sessions)
        firm = (_weights(logs) @ groups).max(axis=1) >= model.firm_chance
        if firm.mean() >= 0.5:
            return sessions
    return None
