"""Curves drawn from one athlete's posterior, which their advice is worked out from."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from modeling.curve.account import Account, Circumstances, Work
from modeling.curve.length import Limits, Needs
from modeling.curve.to_follow import ToFollow
from modeling.curve.two_clocks import Clocks, InEffect, after_wait
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent

__all__ = ["ADVICE_DRAWS", "CurveDraws"]

FloatArray = NDArray[np.float64]

ADVICE_DRAWS = 500
"""Curves that advice is worked out from: all that are drawn, as for any other result."""

MOST_PLACES = 24
"""Most efforts that the mean over long work is taken at, if it has pauses or follows a wait."""

PHASES = 4
"""Starting points looked at between one effort and the next; values in between are linear."""


@dataclass(frozen=True)
class CurveDraws:
    """Curves at even steps of one athlete's posterior, with what the squad shares.

    They do not need the model: they can be saved, and advice worked out from them later.

    Attributes
    ----------
    athlete : object
    sessions, efforts : int
        Counts behind them; 0 is the squad's distribution.
    volume : array of shape (n_knots,)
        Volumes in effect, rising.
    change : array of shape (n_knots, n_draws), or of several (n_knots, n_athletes, n_draws)
        Log performance of each curve against its own peak, 0 or less.
    account : Account
    usual : Circumstances
        The squad's usual circumstances.
    needs : Needs
        Standard, call, advice for one best effort and good range, as done in these circumstances.
    worthwhile_pct : float
        Smallest worthwhile change.
    limits : Limits
        What the athlete may do.
    effort_rest_seconds : float
        Rest between two efforts with which the curve was measured.

    Notes
    -----
    Units: the measure's volume unit; changes are natural logs, or % where the name says so.
    Missing values: none; an athlete without data has the squad's distribution, and 0 sessions.
    Errors: nothing is checked again, so arrays of other shapes raise what numpy raises.
    Source: `modeling.fit.drawn` for the curves, `modeling.curve.two_clocks` for waits.
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
    effort_rest_seconds: float = 0.0

    @property
    def standard_volume(self) -> float:
        """The standard as it is done in the usual circumstances."""
        return self.needs.standard_volume

    def lost_pct(self, volume: float, around: Circumstances | None = None) -> Estimate:
        """Give what is lost in one best effort against the athlete's own peak, in %.

        Parameters
        ----------
        volume : float
            As done.
        around : Circumstances, optional
            None is the squad's usual circumstances.

        Returns
        -------
        Estimate
            0 or more.
        """
        counted = self.in_effect(np.array([volume]), around or self.usual)
        return estimate(drawn_quantiles(-percent(self.after(counted)[0])))

    def in_effect(
        self, volume: ArrayLike, around: Circumstances, since: ArrayLike = 0.0
    ) -> InEffect:
        """Give what is in effect after volumes done before the rest, and others done after it.

        Parameters
        ----------
        volume : array-like of shape (n,)
            As done.
        around : Circumstances
        since : array-like of shape (n,)

        Returns
        -------
        InEffect
            Of shape (n,).
        """
        done, again = np.broadcast_arrays(np.asarray(volume, float), np.asarray(since, float))
        return after_wait(self.account, Work.of(done, again, around), self.usual.rest_minutes)

    def after(self, state: InEffect) -> FloatArray:
        """Give the log change of each curve with this in effect.

        Parameters
        ----------
        state : InEffect
            Of any shape.

        Returns
        -------
        array of shape (..., n_draws)
        """
        if not state.parted:
            return self.at(state.done + state.again)
        return self.with_both(*self.clocks.after(state))

    @property
    def clocks(self) -> Clocks:
        """How warmth and fatigue fade."""
        return Clocks(self._peaks, self.account.half_life_minutes)

    def with_both(self, warm: FloatArray, tired: FloatArray) -> FloatArray:
        """Give the log change of each curve with its own warmth and fatigue.

        Parameters
        ----------
        warm, tired : arrays of shape (..., n_draws)
            In effect.

        Returns
        -------
        array of shape (..., n_draws)
        """
        return self.at_each(warm) + self.at_each(self._peaks + tired) - self.change.max(axis=0)

    def at_each(self, in_effect: FloatArray) -> FloatArray:
        """Give the log change of each curve at a volume of its own.

        Parameters
        ----------
        in_effect : array of shape (..., n_draws)

        Returns
        -------
        array of shape (..., n_draws)
        """
        knots, own = len(self.volume), self.change[0]
        place = np.interp(in_effect, self.volume, np.arange(knots))
        below = np.minimum(place.astype(int), knots - 2)
        curves = own.size
        at_below = below * curves + np.arange(curves).reshape(own.shape)
        low, high = (self.change.ravel().take(at) for at in (at_below, at_below + curves))
        return np.asarray(low + (place - below) * (high - low))

    def at(self, in_effect: ArrayLike) -> FloatArray:
        """Give the log change of each curve at some volumes.

        Parameters
        ----------
        in_effect : array-like of any shape
            Beyond the last knot its value holds.

        Returns
        -------
        array of shape (..., n_draws)
        """
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

    def mean_over(self, start: InEffect, work: ToFollow, step: float) -> FloatArray:
        """Mean change over the work to follow, in %.

        Parameters
        ----------
        start : InEffect
            Before the first effort, of shape (n_starts,).
        work : ToFollow
        step : float
            What each effort adds to the volume in effect.

        Returns
        -------
        array of shape (n_starts, n_draws)
        """
        pause = self.pause_minutes(work)
        if not pause and not start.parted:
            return self.mean_pct(start.done + start.again, work.efforts, step)
        few = min(work.efforts, MOST_PLACES)
        looked_at = set(((np.arange(few) + 0.5) * work.efforts / few).astype(int).tolist())
        followed = self.clocks.before_each(start, work.efforts, step, pause)
        each = (self.with_both(*both) for n, both in enumerate(followed) if n in looked_at)
        found = [percent(change) for change in each]
        return np.asarray(np.mean(found, axis=0))

    def pause_minutes(self, work: ToFollow) -> float:
        """Say how long the pause between two efforts is, beyond the rest in a test.

        Parameters
        ----------
        work : ToFollow

        Returns
        -------
        float
            0 or more.
        """
        beyond = work.recovery_seconds - self.effort_rest_seconds
        return max(beyond, 0.0) / 60.0 if work.efforts > 1 else 0.0

    def peaks(self) -> FloatArray:
        """Give the best volume of each curve, in effect.

        Returns
        -------
        array of shape (n_draws,)
        """
        return self._peaks

    @cached_property
    def _peaks(self) -> FloatArray:
        return np.asarray(self.volume[self.change.argmax(axis=0)], dtype=float)


def _between(rows: FloatArray, place: FloatArray) -> FloatArray:
    """Interpolate linearly between rows."""
    below = np.minimum(place.astype(int), len(rows) - 2)
    share = (place - below)[..., None]
    return rows[below] * (1.0 - share) + rows[below + 1] * share
