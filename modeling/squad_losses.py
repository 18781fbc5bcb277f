"""What a squad gives away at a length and a rest, of all athletes at once.

The loss of an athlete is that of their own curve's mean over the work to follow against the own
peak, under the day's circumstances. Its expectation is worked out once on a grid of volumes in
effect; every length and every rest is then one place on that grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from modeling.account import Circumstances, Work
from modeling.curve_draws import CurveDraws
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent
from modeling.goal_advice import ToFollow
from modeling.pairing import paired

__all__ = ["SquadLosses", "estimates", "mean_estimate", "squad_losses"]

FloatArray = NDArray[np.float64]

GRID_POINTS = 400


@dataclass(frozen=True)
class SquadLosses:
    """Expected losses of a squad's athletes.

    Attributes
    ----------
    curves : tuple of CurveDraws
        One for each athlete, of the same fit.
    to_follow : ToFollow
    around : Circumstances
        The day's; the general part and the rest in them are replaced.
    general_minutes : array of shape (n_athletes,)
        General part of each athlete.
    grid : array of shape (n_points,)
        Volumes in effect.
    expected : array of shape (n_athletes, n_points)
        Expected loss there, in %.
    """

    curves: tuple[CurveDraws, ...]
    to_follow: ToFollow
    around: Circumstances
    general_minutes: FloatArray
    grid: FloatArray
    expected: FloatArray

    def pct(self, volume: ArrayLike, rest_minutes: ArrayLike) -> FloatArray:
        """Give the expected loss of all athletes in %.

        Parameters
        ----------
        volume, rest_minutes : arrays that broadcast to (n_athletes, n_volumes)
            To do, and after it.
        """
        counted = self._counted(volume, rest_minutes)
        rows = zip(counted, self.expected, strict=True)
        return np.array([np.interp(each, self.grid, loss) for each, loss in rows])

    def drawn(
        self, volume: ArrayLike, rest_minutes: ArrayLike, top_up: ArrayLike = 0.0
    ) -> FloatArray:
        """Loss in each drawn curve at one length, rest and top-up for each: in %.

        Parameters
        ----------
        volume, rest_minutes, top_up : arrays that broadcast to (n_athletes, 1)
            To do, after it, and to do again just before the start.

        Returns
        -------
        array of shape (n_athletes, n_draws)
        """
        step = self.curves[0].account.stretch(self.around)
        ahead = step * np.arange(self.to_follow.efforts)
        counted = self._counted(volume, rest_minutes) + step * np.asarray(top_up, dtype=float)
        rows = zip(self.curves, counted, strict=True)
        return np.array([-percent(curve.at(start + ahead)).mean(axis=0) for curve, start in rows])

    def lost(
        self, volume: ArrayLike, rest_minutes: ArrayLike, top_up: ArrayLike = 0.0
    ) -> FloatArray:
        """Give what is lost in each drawn curve: (n_athletes, n_draws), in %.

        One best effort is held against the own peak; more cannot all be at it, and are held
        against the own best length.
        """
        drawn = self.drawn(volume, rest_minutes, top_up)
        if self.to_follow.efforts == 1:
            return drawn
        step = self.curves[0].account.stretch(self.around)
        rest = self.around.rest_minutes
        rows = zip(self.curves, self._counted(self.lengths(rest), rest), strict=True)
        found = [curve.mean_pct(start, self.to_follow.efforts, step) for curve, start in rows]
        # Best lengths are found on steps of an effort, so that less than nothing may be lost.
        return np.maximum(drawn + np.array([each.max(axis=0) for each in found]), 0.0)

    def lengths(self, rest_minutes: float) -> FloatArray:
        """Whole lengths to do from none to what reaches the end of the curves."""
        around = replace(self.around, general_minutes=0.0, rest_minutes=rest_minutes)
        end = float(self.curves[0].account.volume_to_do(self.curves[0].volume[-1:], around)[0])
        step = max(1.0, np.ceil(end / GRID_POINTS))
        return np.arange(0.0, max(end, 1.0) + step, step)

    def _counted(self, volume: ArrayLike, rest_minutes: ArrayLike) -> FloatArray:
        """Volume in effect of each athlete: (n_athletes, n_volumes)."""
        shape = np.broadcast_shapes((len(self.curves), 1), np.shape(volume), np.shape(rest_minutes))
        done = np.broadcast_to(np.asarray(volume, dtype=float), shape)
        work = replace(
            Work.of(done, np.zeros(shape), self.around),
            general=np.broadcast_to(self.general_minutes[:, None], shape),
            rest=np.broadcast_to(np.asarray(rest_minutes, dtype=float), shape),
        )
        return self.curves[0].account.in_effect(work)


def squad_losses(
    curves: Sequence[CurveDraws],
    to_follow: ToFollow,
    around: Circumstances,
    general_minutes: ArrayLike,
) -> SquadLosses:
    """Work the expected losses of one athlete or more out.

    Parameters
    ----------
    curves : sequence of CurveDraws
        Of the same fit, so that they share their volumes and the account.
    to_follow : ToFollow
    around : Circumstances
    general_minutes : array of shape (n_athletes,)
    """
    knots, step = curves[0].volume, curves[0].account.stretch(around)
    grid = np.unique(np.concatenate([knots, np.linspace(0.0, knots[-1], GRID_POINTS)]))
    expected = [-curve.mean_pct(grid, to_follow.efforts, step).mean(axis=1) for curve in curves]
    general = np.asarray(general_minutes, dtype=float)
    return SquadLosses(tuple(curves), to_follow, around, general, grid, np.array(expected))


def estimates(drawn: FloatArray) -> tuple[Estimate, ...]:
    """Median and 90 % interval of each row of drawn values."""
    return tuple(estimate(row) for row in drawn_quantiles(drawn.T).T)


def mean_estimate(drawn: FloatArray) -> Estimate:
    """Mean over athletes of drawn values of each, with its 90 % interval.

    Athletes' draws are paired as for the worth of individual lengths (`pairing.paired`).

    Parameters
    ----------
    drawn : array of shape (n_athletes, n_draws)
    """
    return estimates(paired(drawn).mean(axis=0)[None, :])[0]
