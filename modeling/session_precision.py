"""The inverse of the sessions' covariance, for a few sessions and for very many.

With drift between sessions and, each for itself, the day and what single efforts leave open::

    C = drift^2 exp(-|t_s - t_r| / DRIFT_DAYS) + diag(own)

The drift is an Ornstein-Uhlenbeck process, which forgets all but where it is: its inverse over
rising times has three diagonals, so that C^-1 of thousands of sessions costs about what they count
(Rybicki & Press 1995). A few are inverted as they are.

References
----------
Rybicki & Press (1995), Class of fast methods for processing irregularly sampled or otherwise
inhomogeneous one-dimensional data, Phys. Rev. Lett. 74, 1060-1063.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dpttrs

__all__ = ["MANY_SESSIONS", "SessionPrecision", "drift_covariance", "session_precision"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

DRIFT_DAYS = 60.0
"""Sessions this far apart share 1/e of the drift (a slow change of form; common practice)."""

MANY_SESSIONS = 80
"""From so many sessions on three diagonals are faster than the whole inverse."""


class SessionPrecision(Protocol):
    """C^-1 as something to multiply by.

    Attributes
    ----------
    diagonal : array of shape (n_sessions,)
        Of C^-1.
    log_det : float
        log det C.
    """

    @property
    def diagonal(self) -> FloatArray:
        """Diagonal of C^-1."""
        ...

    @property
    def log_det(self) -> float:
        """Log determinant of C."""
        ...

    def times(self, columns: FloatArray) -> FloatArray:
        """C^-1 times an (n_sessions, ...) array."""
        ...


def session_precision(day: FloatArray, drift: float, own: FloatArray) -> SessionPrecision:
    """Invert the covariance of some sessions.

    Parameters
    ----------
    day : array of shape (n_sessions,)
        Rising.
    drift : float
        Standard deviation of the drift, 0 or more.
    own : array of shape (n_sessions,)
        Each session's own variance, above 0.
    """
    if drift == 0.0:
        return _Apart(own)
    if len(day) < MANY_SESSIONS:
        return _Whole.of(day, drift, own)
    return _ThreeDiagonals.of(day, drift, own)


def drift_covariance(day: FloatArray, drift: float) -> FloatArray:
    """Covariance of the drift between sessions at times (..., n): (..., n, n)."""
    apart = np.abs(day[..., :, None] - day[..., None, :])
    return drift**2 * np.exp(-apart / DRIFT_DAYS)


@dataclass(frozen=True)
class _Apart:
    """No session says anything of another."""

    own: FloatArray

    @property
    def diagonal(self) -> FloatArray:
        return 1.0 / self.own

    @property
    def log_det(self) -> float:
        return float(np.log(self.own).sum())

    def times(self, columns: FloatArray) -> FloatArray:
        return columns / _column(self.own, columns)


@dataclass(frozen=True)
class _Whole:
    """The inverse as it is."""

    inverse: FloatArray
    log_det: float

    @classmethod
    def of(cls, day: FloatArray, drift: float, own: FloatArray) -> _Whole:
        covariance = drift_covariance(day, drift)
        np.einsum("ss->s", covariance)[:] += own
        lower = np.linalg.cholesky(covariance)
        unlower = np.linalg.inv(lower)
        return cls(unlower.T @ unlower, 2.0 * float(np.log(np.diagonal(lower)).sum()))

    @property
    def diagonal(self) -> FloatArray:
        return np.diagonal(self.inverse)

    def times(self, columns: FloatArray) -> FloatArray:
        return self.inverse @ columns


@dataclass(frozen=True)
class _ThreeDiagonals:
    """C^-1 = O^-1 - O^-1 Z P^-1 Z' O^-1 with O = diag(own) and Z from times to sessions.

    P is the drift's inverse covariance at the different times plus what the sessions at each say;
    `pivot` and `below` are its factors L D L'.
    """

    own: FloatArray
    place: IntArray
    pivot: FloatArray
    below: FloatArray
    diagonal: FloatArray
    log_det: float

    @classmethod
    def of(cls, day: FloatArray, drift: float, own: FloatArray) -> _ThreeDiagonals:
        times, place = np.unique(day, return_inverse=True)
        apart = np.diff(times) / DRIFT_DAYS
        # The drift at a time given that before it is normal with this share of its variance.
        fresh = -np.expm1(-2.0 * apart)
        kept = np.exp(-apart)
        middle = np.bincount(place, 1.0 / own) + drift**-2.0 / np.append(1.0, fresh)
        middle[:-1] += kept**2 / fresh / drift**2
        # LAPACK wants room for one beside the diagonal even of a single time.
        beside = -kept / fresh / drift**2 if len(apart) else np.zeros(1)
        pivot, below, _ = dpttrf(middle, beside)
        # From either end, what is left of a time's precision once the times on that side are out.
        other = dpttrf(middle[::-1], beside[::-1])[0][::-1]
        variance = 1.0 / (pivot + other - middle)
        prior = 2.0 * len(times) * np.log(drift) + np.log(fresh).sum()
        return cls(
            own=own,
            place=place,
            pivot=pivot,
            below=below,
            diagonal=1.0 / own - variance[place] / own**2,
            log_det=float(np.log(own).sum() + np.log(pivot).sum() + prior),
        )

    def times(self, columns: FloatArray) -> FloatArray:
        pulled = columns / _column(self.own, columns)
        flat = pulled.reshape(len(pulled), -1)
        at_times = np.add.reduceat(flat, np.flatnonzero(np.diff(self.place, prepend=-1)))
        drift, _ = dpttrs(self.pivot, self.below, at_times)
        return (flat - drift[self.place] / self.own[:, None]).reshape(pulled.shape)


def _column(own: FloatArray, like: FloatArray) -> FloatArray:
    return own.reshape(own.shape + (1,) * (like.ndim - 1))
