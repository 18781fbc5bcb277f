"""Two clocks: warmth leaves slowly, fatigue recovers within minutes.

A response curve rises because one gets warm and falls because one tires, both over one volume in
effect. After a wait they part: the rise reads the volume that is still warm (half-life of the
account, learned where the data tell), the fall the volume from which the athlete has not recovered
yet (`RECOVERY`). Without a wait both are the volume in effect, and the curve is as it was fitted.

A curve is learned from warm-ups that end with the squad's usual rest, so the second clock runs
only in what is waited beyond it, and between two efforts only in what is more than the rest in a
test. The second half-life is never learned: to tell it takes athletes past their peak who begin
after different waits, which hardly any squad's data hold, and inside the fit the volume in effect
would hang on every cell's peak. It acts in advice, with its range spread over the curves drawn.
The form is that of fitness and fatigue (Banister et al. 1975), minutes instead of days.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from modeling.account import RANGE_SDS, Account, Constant, Work

__all__ = ["CLOCKS", "RECOVERY", "InEffect", "after_wait"]

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
"""Half-lives over which the range of `RECOVERY` is spread, each for every fifth curve drawn."""

_SPREAD = NormalDist(np.log(RECOVERY.default), np.log(RECOVERY.high / RECOVERY.low) / RANGE_SDS)
HALF_LIVES: FloatArray = np.exp([_SPREAD.inv_cdf((each + 0.5) / CLOCKS) for each in range(CLOCKS)])


@dataclass(frozen=True)
class InEffect:
    """Volumes in effect when an effort begins.

    Attributes
    ----------
    warm : array of shape (...)
        What still warms.
    tired : array of shape (..., CLOCKS)
        What still tires, by each of the half-lives.
    parted : bool
        Whether the two differ.
    """

    warm: FloatArray
    tired: FloatArray
    parted: bool

    def __getitem__(self, place: int) -> InEffect:
        """Take one along the first axis."""
        return InEffect(self.warm[place], self.tired[place], self.parted)

    def and_efforts(
        self, ahead: NDArray[np.intp], step: float, pause_minutes: float, half_life: float
    ) -> InEffect:
        """Follow efforts with a pause between two of them.

        Parameters
        ----------
        ahead : array of shape (n,)
            How many efforts went before each.
        step : float
            What each adds.
        pause_minutes, half_life : float
            Pause beyond the rest of a test, and the account's half-life.

        Returns
        -------
        InEffect
            Of shape (..., n).
        """
        warm = _followed(self.warm, ahead, step, np.exp2(np.array(-pause_minutes / half_life)))
        kept = np.exp2(-pause_minutes / HALF_LIVES)
        tired = _followed(self.tired, ahead, step, kept[:, None])
        return InEffect(warm, np.moveaxis(tired, -2, -1), self.parted or pause_minutes > 0)


def after_wait(account: Account, work: Work, usual_rest_minutes: float) -> InEffect:
    """Give what is in effect of work whose rest may go beyond the usual one."""
    waited = np.maximum(work.rest - usual_rest_minutes, 0.0)
    none = np.zeros_like(work.since)
    done = account.in_effect(replace(work, since=none, rest=work.rest - waited))
    again = account.in_effect(replace(work, before=none, general=none))
    tired = done[..., None] * np.exp2(-waited[..., None] / HALF_LIVES) + again[..., None]
    return InEffect(account.in_effect(work), tired, bool(waited.any()))


def _followed(
    start: FloatArray, ahead: NDArray[np.intp], step: float, kept: FloatArray
) -> FloatArray:
    """Add efforts to a start; after n of them it has kept^n, and they kept + ... + kept^n."""
    powers = kept ** np.arange(int(ahead.max()) + 1)
    since = np.cumsum(powers, axis=-1) - 1.0
    return np.asarray(start[..., None] * powers[..., ahead] + step * since[..., ahead])
