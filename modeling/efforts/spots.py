"""Where an athlete's efforts were made, and how alike a curve's misfit is from place to place.

No family of curves contains the true one, the best volume moves from day to day, and noise lasts
within a session. So a curve may deviate from its family by two smooth functions: one belongs to the
athlete and is the same in all their sessions, the other belongs to the session. Both are Gaussian
processes in ``log(1 + volume / scale)`` with a squared-exponential correlation (Rasmussen &
Williams 2006, chapter 4). They are linear and normal, so they integrate out with level, drift and
day. Efforts of one session at nearly the same volume share a *spot*. All of these effects are one
number for each spot, so the algebra stays that of a model with an effect for each session.

References
----------
Gruenwald & van Ommen (2017), Inconsistency of Bayesian inference for misspecified linear models,
and a proposal for repairing it, Bayesian Analysis 12, 1069-1103.
Holmes & Walker (2017), Assigning a value to a power likelihood in a general Bayesian model,
Biometrika 104, 497-503.
Kennedy & O'Hagan (2001), Bayesian calibration of computer models, JRSS B 63, 425-464 (a model's
discrepancy as a Gaussian process).
Rasmussen & Williams (2006), Gaussian Processes for Machine Learning, MIT Press.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from modeling.efforts.observations import AthleteRows

__all__ = ["DRIFT_DAYS", "LENGTH", "Misfit", "Spots", "alike", "places"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

LENGTH, SESSION_LENGTH = 0.7, 0.4
"""Distance on the log axis at which an athlete's deviations, and a session's own, still correlate
by 0.61: factors of 2 and of 1.5."""

DRIFT_DAYS = 60.0
"""Sessions this far apart share 1/e of the drift (a slow change of form; common practice)."""

STEP = 0.1
"""Volumes this close on the log axis share a spot: a session's deviations there correlate by
0.97."""

FEW_SESSIONS = 64
"""For no more sessions than this a matrix product is faster than a loop."""

SCALE_SHARE = 0.1
"""Below this share of a typical volume the axis is about linear."""


@dataclass(frozen=True)
class Misfit:
    """How far athletes and sessions may be from every curve of a family.

    Data hardly tell the size of an athlete's own deviation: its likelihood is flat, and what
    predicts best where the athlete has been says little about where the peak is. So it is set, and
    its coverage checked on simulated squads of many kinds; the size of a session's is learned.

    Tried and dropped: a size of 1.2 % for every measure (too much if nobody responds); a length of
    0.4 for athletes, as for sessions (peaks wander into dents: more is lost); a length of 1.0
    (holds are too certain if noise lasts); no power but larger deviations (best volumes come too
    early if the fall is steeper than the rise); a power of a half (too wide if curves are in the
    family); peaks read off the family's curve alone (only three in four intervals of gain and hold
    contain the truth).

    Attributes
    ----------
    of_gain : float
        Athletes' deviation as a share of what a typical athlete gains.
    of_session : float
        The same as a share of the sessions' own deviation: if curves move from day to day, their
        mean is not the curve of a typical day.
    believed : float
        Share of what independent efforts would tell that counts in results for an athlete (a power
        of the likelihood: Gruenwald & van Ommen 2017; Holmes & Walker 2017).
    """

    of_gain: float = 0.1
    of_session: float = 0.5
    believed: float = 2.0 / 3.0


def places(volume: FloatArray, typical_volume: float) -> FloatArray:
    """Put volumes on the log axis of the deviations."""
    return np.log1p(volume / (SCALE_SHARE * typical_volume))


def alike(one: FloatArray, other: FloatArray, length: float = LENGTH) -> FloatArray:
    """Correlation of deviations at some places with those at others: (n_one, n_other)."""
    return np.exp(-0.5 * ((one[:, None] - other) / length) ** 2)


@dataclass(frozen=True)
class Spots:
    """One athlete's efforts by session and place.

    Attributes
    ----------
    rows : AthleteRows
    of_effort : array of shape (n_efforts,)
        Which spot each effort belongs to.
    session : array of shape (n_spots,)
        Which session each spot belongs to.
    place : array of shape (n_spots,)
        Where it is on the log axis.
    """

    rows: AthleteRows
    of_effort: IntArray
    session: IntArray
    place: FloatArray

    @classmethod
    def of(cls, rows: AthleteRows, typical_volume: float | None) -> Spots:
        """Find the spots; no typical volume means no misfit, so each session is one spot."""
        if typical_volume is None:
            sessions = len(rows.sessions)
            return cls(rows, rows.session_index, np.arange(sessions), np.zeros(sessions))
        step = np.rint(places(rows.volume, typical_volume) / STEP)
        begins = (np.diff(step, prepend=np.nan) != 0) | (
            np.diff(rows.session_index, prepend=-1) != 0
        )
        first = np.flatnonzero(begins)
        return cls(rows, np.cumsum(begins) - 1, rows.session_index[first], STEP * step[first])

    def sums(self, per_effort: FloatArray) -> FloatArray:
        """Sum an (n_efforts, ...) array within spots to (n_spots, ...)."""
        if len(self._starts) == len(per_effort):
            return per_effort
        return np.add.reduceat(per_effort, self._starts, axis=0)

    def by_session(self, per_spot: FloatArray) -> FloatArray:
        """Sum an (n_spots, ...) array within sessions to (n_sessions, ...)."""
        if len(self._session_starts) == len(per_spot):
            return per_spot
        return np.add.reduceat(per_spot, self._session_starts, axis=0)

    @cached_property
    def _starts(self) -> IntArray:
        return np.flatnonzero(np.diff(self.of_effort, prepend=-1))

    @cached_property
    def _session_starts(self) -> IntArray:
        return np.flatnonzero(np.diff(self.session, prepend=-1))

    @cached_property
    def alike_in_time(self) -> FloatArray:
        """Correlation of the drift between sessions (n_sessions, n_sessions)."""
        day = self.rows.day
        return np.exp(-np.abs(day[:, None] - day) / DRIFT_DAYS)

    def drifting(self, columns: FloatArray) -> FloatArray:
        """`alike_in_time` times an (n_sessions, ...) array.

        Many sessions need no matrix product: an exponential correlation is that of a Markov
        process, so each session passes on what it has and what it was given, forwards and
        backwards.
        """
        if len(columns) <= FEW_SESSIONS:
            return np.asarray(self.alike_in_time @ columns, dtype=float)
        passed_on = np.exp(-np.diff(self.rows.day) / DRIFT_DAYS).tolist()
        forwards, backwards = columns.copy(), columns.copy()
        for session, share in enumerate(passed_on):
            forwards[session + 1] += share * forwards[session]
        for session, share in reversed(list(enumerate(passed_on))):
            backwards[session] += share * backwards[session + 1]
        return forwards + backwards - columns

    @property
    def alike(self) -> FloatArray:
        """Correlation of the athlete's deviations between spots.

        Worked out on demand: for thousands of athletes it would fill the memory.
        """
        return alike(self.place, self.place)

    @cached_property
    def _in_session(self) -> tuple[IntArray, FloatArray]:
        """Flat places of pairs of spots of one session, and how its own deviations correlate.

        Few of all pairs are in one session, so these can be held even for thousands of athletes.
        """
        one, other = np.nonzero(self.session[:, None] == self.session)
        correlation = np.exp(-0.5 * ((self.place[one] - self.place[other]) / SESSION_LENGTH) ** 2)
        return one * len(self.session) + other, correlation

    def add_in_session(self, covariance: FloatArray, variance: float) -> None:
        """Add the covariance of sessions' own deviations to one of spots, in place."""
        pairs, correlation = self._in_session
        covariance.reshape(-1)[pairs] += variance * correlation

    @property
    def alike_in_session(self) -> FloatArray:
        """Correlation of the sessions' own deviations between spots."""
        correlation = np.zeros((len(self.session),) * 2)
        self.add_in_session(correlation, 1.0)
        return correlation
