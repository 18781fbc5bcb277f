"""What a squad loses at a length and a rest, for all athletes at once.

An athlete's loss compares the mean of their curve over the work to follow with their own peak,
under the day's circumstances. Where warmth and fatigue are one volume in effect, the expected loss
is worked out once on a grid; every length and every rest is then one place on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from modeling.curve.account import Circumstances, Work
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.pairing import paired
from modeling.curve.to_follow import ToFollow
from modeling.curve.two_clocks import InEffect, after_wait
from modeling.day.goal_advice import whole_volumes
from modeling.estimate import Estimate, drawn_quantiles, estimate

__all__ = ["SquadLosses", "estimates", "mean_estimate", "squad_losses"]

FloatArray = NDArray[np.float64]

GRID_POINTS = 400


@dataclass(frozen=True)
class SquadLosses:
    """Expected losses of a squad's athletes.

    Attributes
    ----------
    curves : tuple of CurveDraws
        One for each athlete, from the same fit.
    to_follow : ToFollow
    around : Circumstances
        The day's circumstances; their general part and rest are replaced.
    general_minutes : array of shape (n_athletes,)
        General part of each athlete.
    left_over : array of shape (n_athletes,)
        What is left of an earlier warm-up that day in each athlete (`Circumstances`).
    """

    curves: tuple[CurveDraws, ...]
    to_follow: ToFollow
    around: Circumstances
    general_minutes: FloatArray
    left_over: FloatArray

    def pct(self, volume: ArrayLike, rest_minutes: ArrayLike) -> FloatArray:
        """Give the expected loss of all athletes in %.

        Parameters
        ----------
        volume, rest_minutes : arrays that broadcast to (n_athletes, n_volumes)
            Volume to do, and the rest after it.
        """
        counted = self._counted(volume, rest_minutes)
        if counted.parted or self._pauses:
            return np.array([-each.mean(axis=1) for each in self._means(counted)])
        grid, expected = self._expected
        rows = zip(counted.done + counted.again, expected, strict=True)
        return np.array([np.interp(each, grid, loss) for each, loss in rows])

    def drawn(
        self, volume: ArrayLike, rest_minutes: ArrayLike, top_up: ArrayLike = 0.0
    ) -> FloatArray:
        """Loss in each drawn curve, in %, at one length, rest and top-up for each athlete.

        Parameters
        ----------
        volume, rest_minutes, top_up : arrays that broadcast to (n_athletes, 1)
            Volume to do, the rest after it, and the volume to do again just before the start.

        Returns
        -------
        array of shape (n_athletes, n_draws)
        """
        counted = self._counted(volume, rest_minutes, top_up)
        return np.array([-each[0] for each in self._means(counted)])

    def lost(
        self, volume: ArrayLike, rest_minutes: ArrayLike, top_up: ArrayLike = 0.0
    ) -> FloatArray:
        """Give what is lost in each drawn curve: (n_athletes, n_draws), in %.

        One best effort is compared with the own peak. Several efforts cannot all be at the peak,
        so they are compared with the own best length.
        """
        drawn = self.drawn(volume, rest_minutes, top_up)
        if self.to_follow.efforts == 1:
            return drawn
        # Best lengths are found in steps of an effort, so a loss could come out below 0.
        return np.maximum(drawn + self._best, 0.0)

    def of_athlete(self, place: int) -> Circumstances:
        """Give the circumstances of one athlete's warm-up."""
        return replace(
            self.around,
            general_minutes=float(self.general_minutes[place]),
            left_over=float(self.left_over[place]),
        )

    def of_athletes(self, places: NDArray[np.int64]) -> SquadLosses:
        """Give the losses of some of the athletes."""
        return replace(
            self,
            curves=tuple(self.curves[place] for place in places),
            general_minutes=self.general_minutes[places],
            left_over=self.left_over[places],
        )

    def lengths(self, rest_minutes: float) -> FloatArray:
        """Whole lengths to do, from none to the one that reaches the end of the curves."""
        around = replace(self.around, general_minutes=0.0, rest_minutes=rest_minutes)
        end = float(self.curves[0].account.volume_to_do(self.curves[0].volume[-1:], around)[0])
        return whole_volumes(end, self._pauses)

    @property
    def _step(self) -> float:
        return self.curves[0].account.stretch(self.around)

    @property
    def _pauses(self) -> bool:
        return self.curves[0].pause_minutes(self.to_follow) > 0

    @cached_property
    def _best(self) -> FloatArray:
        """Mean change at the best length of each drawn curve: (n_athletes, n_draws), in %."""
        rest = self.around.rest_minutes
        found = self._means(self._counted(self.lengths(rest), rest))
        return np.array([each.max(axis=0) for each in found])

    @cached_property
    def _expected(self) -> tuple[FloatArray, FloatArray]:
        """Volumes in effect, and the expected loss of each athlete there."""
        knots, efforts = self.curves[0].volume, self.to_follow.efforts
        grid = np.unique(np.concatenate([knots, np.linspace(0.0, knots[-1], GRID_POINTS)]))
        means = [curve.mean_pct(grid, efforts, self._step) for curve in self.curves]
        return grid, np.array([-each.mean(axis=1) for each in means])

    def _means(self, counted: InEffect) -> list[FloatArray]:
        """Mean change of each athlete over the work: (n_volumes, n_draws), in %."""
        if counted.parted or self._pauses:
            of_all = self._abreast.mean_over(counted.transposed(), self.to_follow, self._step)
            return list(np.moveaxis(of_all, 1, 0))
        return [
            curve.mean_over(counted[place], self.to_follow, self._step)
            for place, curve in enumerate(self.curves)
        ]

    @cached_property
    def _abreast(self) -> CurveDraws:
        """All athletes' curves in one, (n_knots, n_athletes, n_draws): faster than one by one."""
        return replace(self.curves[0], change=np.stack([one.change for one in self.curves], axis=1))

    def _counted(
        self, volume: ArrayLike, rest_minutes: ArrayLike, top_up: ArrayLike = 0.0
    ) -> InEffect:
        """Give each athlete's volumes in effect: (n_athletes, n_volumes)."""
        many = (len(self.curves), 1)
        shape = np.broadcast_shapes(many, *map(np.shape, (volume, rest_minutes, top_up)))
        done, rest, again = (
            np.broadcast_to(np.asarray(each, dtype=float), shape)
            for each in (volume, rest_minutes, top_up)
        )
        work = replace(
            Work.of(done + self.left_over[:, None], again, self.around),
            general=np.broadcast_to(self.general_minutes[:, None], shape),
            rest=rest,
        )
        first = self.curves[0]
        return after_wait(first.account, work, first.usual.rest_minutes)


def squad_losses(
    curves: Sequence[CurveDraws],
    to_follow: ToFollow,
    around: Circumstances,
    general_minutes: ArrayLike,
    left_over: ArrayLike = 0.0,
) -> SquadLosses:
    """Bring together what the losses of one or more athletes are worked out from.

    Parameters
    ----------
    curves : sequence of CurveDraws
        From the same fit, so that they share their volumes and the account.
    to_follow : ToFollow
    around : Circumstances
    general_minutes, left_over : arrays of shape (n_athletes,)
    """
    general = np.asarray(general_minutes, dtype=float)
    left = np.broadcast_to(np.asarray(left_over, dtype=float), general.shape)
    return SquadLosses(tuple(curves), to_follow, around, general, left)


def estimates(drawn: FloatArray) -> tuple[Estimate, ...]:
    """Median and 90 % interval of each row of drawn values."""
    return tuple(estimate(row) for row in drawn_quantiles(drawn.T).T)


def mean_estimate(drawn: FloatArray) -> Estimate:
    """Mean over athletes of their drawn values, with its 90 % interval.

    Athletes' draws are paired as for the worth of own lengths (`pairing.paired`).

    Parameters
    ----------
    drawn : array of shape (n_athletes, n_draws)
    """
    return estimates(paired(drawn).mean(axis=0)[None, :])[0]
