"""Simulated future tests: what they may show about an athlete, given what is known.

Level, drift and day are integrated out, so a session informs through its contrasts and, as far as
form is known, through its height. The stop rule of a fade test depends only on what was measured,
so it does not enter the likelihood. Every test is done after the usual general part, never cold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from modeling.curve.account import Work
from modeling.curve.curve_draws import CurveDraws
from modeling.estimate import percent
from modeling.testing.fade import IN_A_ROW, SHARE

__all__ = [
    "ANY",
    "MOST_FADE_EFFORTS",
    "ROUTINE_EFFORTS",
    "Begun",
    "HowFar",
    "Known",
    "offered",
    "rest_of_fade",
    "routine_logs",
    "weights",
    "whole_fade",
]

FloatArray = NDArray[np.float64]

TRUTHS = 100
ROUTINE_EFFORTS = 3
MOST_FADE_EFFORTS = 120
OFFERED_VOLUMES = 40


@dataclass(frozen=True)
class HowFar:
    """How far an athlete's tests may go; tests beyond it are neither weighed nor proposed.

    Attributes
    ----------
    in_fade : int
        Most efforts in a fade test.
    before_routine : float
        Most volume, as done, before the first effort of a routine session.

    Notes
    -----
    Units: efforts, and the measure's volume unit.
    Missing values: none; the defaults are 120 efforts and any volume.
    Errors: it raises nothing.
    Source: common practice, no source.
    """

    in_fade: int = MOST_FADE_EFFORTS
    before_routine: float = inf


ANY = HowFar()


@dataclass(frozen=True)
class Known:
    """What may be true of an athlete: draws of the curve, with what is known about form.

    `level` is the mean level under each draw. `offered` is the change from the peak of each draw
    at volumes that may be advised, in %: (n_draws, n_volumes).
    """

    curve: CurveDraws
    level: FloatArray
    level_variance: float
    effort_sd: float
    session_variance: float
    offered: FloatArray
    stop_share: float = SHARE
    in_a_row: int = IN_A_ROW
    mosts: HowFar = ANY

    def in_effect(self, before: ArrayLike, since: ArrayLike = 0.0) -> FloatArray:
        """Give volumes in effect of those done before and in a session in usual circumstances."""
        done, more = np.broadcast_arrays(np.asarray(before, float), np.asarray(since, float))
        return self.curve.account.in_effect(Work.of(done, more, self.curve.usual))

    @property
    def truths(self) -> NDArray[np.intp]:
        """Draws that sessions are simulated under."""
        draws = len(self.level)
        return np.linspace(0, draws - 1, min(TRUTHS, draws)).astype(int)

    def expected(self, volume: FloatArray) -> FloatArray:
        """Give expected log values of efforts: (n_efforts, n_draws)."""
        return self.curve.at(volume) + self.level

    def worth(self, logs: FloatArray) -> float:
        """Give the expected gain in % of choosing the volume anew over today's best, 0 or more."""
        by_volume = weights(logs) @ self.offered
        today = int(self.offered.mean(axis=0).argmax())
        return float((by_volume.max(axis=1) - by_volume[:, today]).mean())


def offered(curve: CurveDraws) -> FloatArray:
    """Give each draw's change at volumes that may be advised, in %: (n_draws, n_volumes)."""
    peaks = curve.change.argmax(axis=0)
    between = np.arange(peaks.min(), peaks.max() + 1)
    few = between[:: 1 + len(between) // OFFERED_VOLUMES]
    return np.ascontiguousarray(percent(curve.change[few]).T)


def weights(logs: FloatArray) -> FloatArray:
    """Weights of the draws (n_truths, n_draws) by their log likelihoods."""
    weight = np.exp(logs - logs.max(axis=1, keepdims=True))
    return weight / weight.sum(axis=1, keepdims=True)


def routine_logs(known: Known, volumes: Sequence[float], sessions: int) -> FloatArray:
    """Log likelihoods (n_truths, n_draws) of what some sessions at each volume may show.

    Volumes are as done.
    """
    place = np.repeat(np.arange(len(volumes)), ROUTINE_EFFORTS)
    before = np.repeat(volumes, ROUTINE_EFFORTS)
    since = np.tile(np.arange(ROUTINE_EFFORTS), len(volumes))
    # Use the means over sessions at each volume: they hold all the information on the curve.
    own = known.session_variance * (place[:, None] == place)
    own[np.diag_indices_from(own)] += known.effort_sd**2
    covariance = known.level_variance + own / sessions
    # Whiten, so that measurements have independent noise of size 1.
    expected = known.expected(known.in_effect(before, since))
    white = np.linalg.solve(np.linalg.cholesky(covariance), expected)
    truths = known.truths
    # Use the same noise for every plan, so that only the plans make a difference.
    noise = np.random.default_rng(1).standard_normal((len(before), len(truths)))
    shown = white[:, truths] + noise
    return shown.T @ white - 0.5 * (white**2).sum(axis=0)


@dataclass(frozen=True)
class Begun:
    """A fade test that is under way.

    Attributes
    ----------
    value : array of shape (n_made,)
        Log values of the efforts made, without those that do not count.
    ahead : array of shape (n_ahead,)
        Volumes in effect before each of the efforts that may follow.
    """

    value: FloatArray
    ahead: FloatArray


def whole_fade(known: Known, rng: np.random.Generator) -> tuple[FloatArray, NDArray[np.intp]]:
    """Simulate a fade test from its first effort on; see `rest_of_fade`."""
    efforts = max(min(known.mosts.in_fade, MOST_FADE_EFFORTS), 1)
    begun = Begun(np.zeros(0), known.in_effect(0.0, np.arange(efforts)))
    return rest_of_fade(known, begun, rng)


def rest_of_fade(
    known: Known, begun: Begun, rng: np.random.Generator
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Simulate a fade test from where it stands until the stop rule ends it.

    `known` must already include what the efforts made so far have shown.

    Returns
    -------
    array of shape (n_truths, n_draws)
        Log likelihoods of what the rest may show.
    array of shape (n_truths,)
        Number of efforts in the rest.
    """
    expected, truths = known.expected(begun.ahead), known.truths
    sd = np.sqrt(known.session_variance + known.level_variance)
    value = expected[:, truths] + sd * rng.standard_normal(len(truths))
    value += known.effort_sd * rng.standard_normal(value.shape)
    made = np.repeat(begun.value[:, None], len(truths), axis=1)
    whole = np.concatenate([made, value])
    efforts = np.maximum(_efforts_made(whole, known.stop_share, known.in_a_row) - len(made), 0)
    return _first_efforts_logs(known, expected, value, efforts), efforts


def _first_efforts_logs(
    known: Known, expected: FloatArray, value: FloatArray, efforts: NDArray[np.intp]
) -> FloatArray:
    """Log likelihoods (n_truths, n_draws) of one session's first efforts, up to a constant.

    `expected` is (n_efforts, n_draws), `value` (n_efforts, n_truths), `efforts` (n_truths,).
    """
    most = int(efforts.max())
    made = (np.arange(most)[:, None] < efforts).astype(float)
    expected, value = expected[:most], value[:most] * made
    precision = known.effort_sd**-2.0
    of_session = known.session_variance + known.level_variance
    shared = precision**2 * of_session / (1.0 + efforts * precision * of_session)
    squares = made.T @ expected**2 - 2.0 * value.T @ expected
    total = value.sum(axis=0)[:, None] - made.T @ expected
    return -0.5 * (precision * squares - shared[:, None] * total**2)


def _efforts_made(
    log_value: FloatArray, share: float = SHARE, in_a_row: int = IN_A_ROW
) -> NDArray[np.intp]:
    """Efforts until the stop rule (`fade`) ends a test, for each column of log values."""
    low = log_value < np.maximum.accumulate(log_value, axis=0) + np.log(share)
    if len(low) < in_a_row:
        return np.full(low.shape[1], len(low))
    row = np.all([low[i : len(low) - in_a_row + 1 + i] for i in range(in_a_row)], axis=0)
    return np.where(row.any(axis=0), row.argmax(axis=0) + in_a_row, len(log_value))
