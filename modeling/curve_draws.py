"""What advice about one athlete is worked out from: curves drawn from what is known of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from modeling.account import Account, Circumstances
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent
from modeling.length import Limits, Needs

__all__ = ["ADVICE_DRAWS", "CurveDraws"]

FloatArray = NDArray[np.float64]

ADVICE_DRAWS = 500
"""Curves that advice is worked out from: all that are drawn, as everything said of an athlete."""

PHASES = 4
"""Steps in which work may begin between one effort and the next; between them, linear."""


@dataclass(frozen=True)
class CurveDraws:
    """Curves at even steps of one athlete's posterior, with what the squad shares.

    They stand without the model, so that they can be kept and advice worked out from them later.

    Attributes
    ----------
    athlete : object
    sessions, efforts : int
        Counts behind them; 0 is the squad's distribution.
    volume : array of shape (n_knots,)
        Volumes in effect, rising.
    change : array of shape (n_knots, n_draws)
        Log performance against the own peak, 0 or less, of each curve.
    account : Account
    usual : Circumstances
        The squad's usual circumstances.
    needs : Needs
        Standard, call, advice for one best effort and good range, as done in them.
    worthwhile_pct : float
        Smallest worthwhile change.
    limits : Limits
        What the athlete may do.
    """

    athlete: object
    sessions: int
    efforts: int
    volume: FloatArray
    change: FloatArray
    account: Account
    usual: Circumstances
    needs: Needs
    worthwhile_pct: float
    limits: Limits = field(default_factory=Limits)

    @property
    def standard_volume(self) -> float:
        """The standard as it is done in the usual circumstances."""
        return self.needs.standard_volume

    def lost_pct(self, volume: float, around: Circumstances | None = None) -> Estimate:
        """Give what one best effort loses against the own peak, in %."""
        counted = self.account.volume_in_effect(np.array([volume]), around or self.usual)
        return estimate(drawn_quantiles(-percent(self.at(counted)[0])))

    def at(self, in_effect: ArrayLike) -> FloatArray:
        """Log change at volumes in effect, (..., n_draws); the last holds beyond the last knot."""
        knots = self.volume
        place = np.interp(np.asarray(in_effect, dtype=float), knots, np.arange(len(knots)))
        return _between(self.change, place)

    def mean_pct(self, start: FloatArray, efforts: int, step: float) -> FloatArray:
        """Mean change over efforts that follow, in %.

        Parameters
        ----------
        start : array of shape (n_starts,)
            Volume in effect before the first of them.
        efforts : int
            How many, 1 or more.
        step : float
            What each adds to the volume in effect.

        Returns
        -------
        array of shape (n_starts, n_draws)
        """
        if efforts == 1:
            return percent(self.at(start))
        fine = step / PHASES
        rows = int(np.ceil(max(float(start.max()), self.volume[-1]) / fine / PHASES)) + efforts + 1
        value = percent(self.at(fine * np.arange(rows * PHASES)))
        total = np.cumsum(value.reshape(rows, PHASES, -1), axis=0)
        total = np.concatenate([np.zeros_like(total[:1]), total])
        window = (total[efforts:] - total[:-efforts]) / efforts
        return _between(window.reshape(-1, value.shape[1]), start / fine)

    def peaks(self) -> FloatArray:
        """Best volume of each curve: array of shape (n_draws,)."""
        return np.asarray(self.volume[self.change.argmax(axis=0)], dtype=float)


def _between(rows: FloatArray, place: FloatArray) -> FloatArray:
    """Rows at places between whole numbers, linearly."""
    below = np.minimum(place.astype(int), len(rows) - 2)
    share = (place - below)[..., None]
    return rows[below] * (1.0 - share) + rows[below + 1] * share
