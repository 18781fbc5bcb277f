"""Two clocks: warmth leaves slowly, fatigue recovers within minutes.

A response curve rises because athletes get warm and falls because they tire, both along one volume
in effect. During a wait the two fade at different speeds. What is below the athlete's peak is
warmth, with the half-life of the account (learned if the data tell). What is beyond the peak is
fatigue, with a much shorter half-life (`RECOVERY`)::

    warm = min(u, peak) * 2 ** (-wait / half_life)
    tired = max(u - peak, 0) * 2 ** (-wait / recovery)
    change = curve(warm) + curve(peak + tired)        with curve(peak) = 0

So an athlete past the peak may gain from a few minutes, everybody gets worse in a long wait, and
doing more beforehand keeps nobody warm. Below the peak, or without a wait, all is as in the
account. An effort that follows adds to the warmth up to the peak, and to the fatigue from there on.

A curve is learned from warm-ups that end with the squad's usual rest. So the second clock runs
only while athletes wait beyond it, and between two efforts only beyond the rest in a test. The
second half-life is never learned. That would take athletes past their peak who begin after
different waits, which hardly any squad's data contain. Inside the fit the volume in effect would
also depend on every cell's peak. It acts in advice only, with its range spread over the curves
drawn. Two half-lives are as in models of fitness and fatigue (Banister et al. 1975), in minutes
instead of days.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import RANGE_SDS, Account, Constant, Work

__all__ = ["CLOCKS", "HALF_LIVES", "RECOVERY", "Clocks", "InEffect", "after_wait"]

FloatArray = NDArray[np.float64]

RECOVERY = Constant(
    "recovery_half_life_minutes",
    "rest that halves what efforts have tired",
    "minutes",
    3.0,
    1.1,
    8.0,
    True,
    0.0,
    1.0 / 120.0,
    "derived from jumps after hard sets, worse within 3 minutes and better after 3 to 7 (Dobbs et"
    " al. 2019); the range is common practice, no source",
)

CLOCKS = 5
"""Half-lives that the range of `RECOVERY` is spread over, each for every fifth curve drawn."""

_SPREAD = NormalDist(np.log(RECOVERY.default), np.log(RECOVERY.high / RECOVERY.low) / RANGE_SDS)
HALF_LIVES: FloatArray = np.exp([_SPREAD.inv_cdf((each + 0.5) / CLOCKS) for each in range(CLOCKS)])


@dataclass(frozen=True)
class InEffect:
    """What is in effect when the wait beyond the usual rest is over; arrays of one shape.

    Attributes
    ----------
    done : array
        Volume in effect when that wait begins.
    waited : array
        Minutes of that wait; 0 where nobody waits longer than usual.
    again : array
        Volume in effect of what was done after it.
    """

    done: FloatArray
    waited: FloatArray
    again: FloatArray

    def __getitem__(self, place: int) -> InEffect:
        """Take one along the first axis."""
        return InEffect(self.done[place], self.waited[place], self.again[place])

    def transposed(self) -> InEffect:
        """Give the same with its two axes exchanged."""
        return InEffect(self.done.T, self.waited.T, self.again.T)

    @property
    def parted(self) -> bool:
        """Whether the clocks have run apart."""
        return bool(self.waited.any())


@dataclass(frozen=True)
class Clocks:
    """Both clocks, for curves whose peaks are known.

    Attributes
    ----------
    peak : array of shape (n_curves,) or (n_athletes, n_curves)
        Best volume in effect of each.
    half_life : float
        Minutes in which warmth halves.
    """

    peak: FloatArray
    half_life: float

    @property
    def recovery(self) -> FloatArray:
        """Minutes in which fatigue halves: array of shape (n_curves,)."""
        return HALF_LIVES[np.arange(self.peak.shape[-1]) % CLOCKS]

    def after(self, state: InEffect) -> tuple[FloatArray, FloatArray]:
        """Give warmth and fatigue, each (..., n_curves)."""
        done, waited = state.done[..., None], state.waited[..., None]
        warm = np.minimum(done, self.peak) * np.exp2(-waited / self.half_life)
        tired = np.maximum(done - self.peak, 0.0) * np.exp2(-waited / self.recovery)
        return self._and(warm, tired, state.again[..., None])

    def before_each(
        self, state: InEffect, efforts: int, step: float, pause_minutes: float
    ) -> Iterator[tuple[FloatArray, FloatArray]]:
        """Give warmth and fatigue before each of some efforts, each (..., n_curves).

        Parameters
        ----------
        state : InEffect
            Before the first.
        efforts : int
        step : float
            What each adds.
        pause_minutes : float
            Between two, beyond the rest in a test.
        """
        warm, tired = self.after(state)
        kept, left = (
            np.exp2(-pause_minutes / self.half_life),
            np.exp2(-pause_minutes / self.recovery),
        )
        for _ in range(efforts):
            yield warm, tired
            warm, tired = self._and(warm, tired, step)
            warm, tired = warm * kept, tired * left

    def _and(
        self, warm: FloatArray, tired: FloatArray, more: FloatArray | float
    ) -> tuple[FloatArray, FloatArray]:
        """Add what is done: to warmth up to the peak, then to fatigue."""
        full = np.minimum(warm + more, self.peak)
        return full, tired + (warm + more - full)


def after_wait(account: Account, work: Work, usual_rest_minutes: float) -> InEffect:
    """Give what is in effect of work whose rest may be longer than usual."""
    waited = np.maximum(work.rest - usual_rest_minutes, 0.0)
    none = np.zeros_like(work.since)
    return InEffect(
        done=account.in_effect(replace(work, since=none, rest=work.rest - waited)),
        waited=waited,
        again=account.in_effect(replace(work, before=none, general=none)),
    )
