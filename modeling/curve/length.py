"""How much an athlete does: the one rule that every page, sheet, calendar and export uses.

The length is the standard, unless the athlete is called short or long; then it is the advised
volume. A day's circumstances change it only when they push it out of the good range. Nobody is told
to do more than a quarter above the most they have ever done, or more than the club allows. After a
long wait there is a top-up of a few efforts shortly before the start, never more beforehand: what
was done long ago has faded, and doing more of it only tires. If the limit leaves no room for the
top-up, it takes part of the length, once that keeps a whole effort more in effect.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, inf

import numpy as np

from modeling.curve.account import Account, Circumstances
from modeling.curve.waiting import LONG_MINUTES
from modeling.errors import ModelError

__all__ = ["Day", "Length", "Limits", "Needs", "length"]

OVER_THE_MOST_DONE = 1.25
"""A length may be up to this many times the most an athlete has ever done (common practice)."""

LEAST_GAIN = 1.0
"""Less than a whole effort is not worth a top-up (common practice)."""

MOST_TOP_UP = 5.0
"""Most efforts in a top-up: it wakes up, it does not warm up again (common practice)."""


@dataclass(frozen=True)
class Needs:
    """What a fit says about one athlete; volumes are as done in the squad's usual circumstances.

    Attributes
    ----------
    standard_volume : float
        What the team does today.
    call : {"short", "long", "either", "not known"}
    advised_volume : float
    good_range : tuple of float or None
    """

    standard_volume: float
    call: str
    advised_volume: float
    good_range: tuple[float, float] | None

    @property
    def usual(self) -> float:
        """What the athlete needs on a usual day, whatever the limits."""
        if self.call == "short":
            return min(self.advised_volume, self.standard_volume)
        if self.call == "long":
            return max(self.advised_volume, self.standard_volume)
        return self.standard_volume


@dataclass(frozen=True)
class Limits:
    """Volumes as they are done; infinite where nothing is known or set.

    Attributes
    ----------
    most_done : float
        The most that the athlete has ever done as a warm-up.
    most_allowed : float
        The club's limit for the measure.

    Raises
    ------
    ModelError
        One of them is below 0 or not a number.

    Notes
    -----
    Units: the measure's volume unit, as done.
    Missing values: infinite is no limit.
    Errors: only making one raises.
    Source: a quarter more at a time is common practice, no source.
    """

    most_done: float = inf
    most_allowed: float = inf

    def __post_init__(self) -> None:
        if not (self.most_done >= 0 and self.most_allowed >= 0):
            raise ModelError("Limits must be 0 or more.")

    @property
    def next_step(self) -> float:
        """The most in whole units that does not go too far beyond what was done."""
        return float(np.floor(OVER_THE_MOST_DONE * self.most_done + 1e-9))

    @property
    def most(self) -> float:
        """The most in whole units that may be proposed."""
        return min(self.next_step, float(np.floor(self.most_allowed)))

    @property
    def most_by_hand(self) -> float:
        """The most a person may set with a reason: the club's limit, or the next step if larger."""
        known = self.most_allowed if np.isfinite(self.most_allowed) else 0.0
        return max(self.next_step, float(np.floor(known)))

    def of(self, wanted: float) -> tuple[float, str | None]:
        """Round a volume to whole units within the limits, and say which of them cut it.

        Parameters
        ----------
        wanted : float

        Returns
        -------
        tuple of (float, {"club", "most done"} or None)
        """
        rounded = float(np.round(wanted))
        if rounded <= self.most:
            return rounded, None
        return self.most, "club" if self.most_allowed <= self.next_step else "most done"


@dataclass(frozen=True)
class Day:
    """One day's circumstances, and the usual ones."""

    account: Account
    usual: Circumstances
    around: Circumstances


@dataclass(frozen=True)
class Length:
    """How much an athlete does.

    Attributes
    ----------
    volume : float
        In whole units, before the wait.
    top_up : float
        Whole efforts shortly before the start, after a long wait.
    wanted : float
        What would be done without limits.
    because : {"standard", "call", "day"}
        What decides it.
    limited_by : {"club", "most done"} or None
        What cut it.

    Notes
    -----
    Units: the measure's volume unit, as done.
    Missing values: `limited_by` is None where nothing cut it.
    Errors: reading it raises nothing.
    Source: the rule of the module; a top-up after long waits: Silva et al. 2018.
    """

    volume: float
    top_up: float
    wanted: float
    because: str
    limited_by: str | None


def length(needs: Needs, limits: Limits | None = None, day: Day | None = None) -> Length:
    """Say how much an athlete does, on a usual day or on a given one.

    Examples
    --------
    An athlete who needs more gets it, up to a quarter above the most they have ever done.

    >>> needs = Needs(standard_volume=15, call="long", advised_volume=28, good_range=(22, 36))
    >>> length(needs).volume
    28.0
    >>> careful = length(needs, Limits(most_done=20))
    >>> careful.volume, careful.limited_by
    (25.0, 'most done')

    As long as nobody knows better, everybody does the standard.

    >>> length(Needs(15, "not known", advised_volume=28, good_range=None)).volume
    15.0
    """
    limits = limits or Limits()
    wanted = needs.usual
    because = "standard" if wanted == needs.standard_volume else "call"
    if day is not None and needs.good_range is not None:
        awake = _awake(day)
        was_good = _good(needs.good_range, day, wanted, day.usual)
        if was_good and not _good(needs.good_range, day, wanted, awake):
            aim = day.account.volume_in_effect(np.array([wanted]), day.usual)
            wanted = max(float(day.account.volume_to_do(aim, awake)[0]), 0.0)
            because = "day"
    volume, limited_by = limits.of(wanted)
    needed = 0.0 if day is None else _top_up(needs, day, volume)
    if day is not None and needed * (1.0 - _left_of_wait(day)) >= LEAST_GAIN:
        # Within the limit, efforts are worth more just before the start than before the wait.
        volume = min(volume, max(limits.most - needed, 0.0))
    return Length(volume, min(needed, limits.most - volume), wanted, because, limited_by)


def _awake(day: Day) -> Circumstances:
    """Give the day with no more rest than usual; the top-up makes up for a longer wait."""
    rest = min(day.around.rest_minutes, day.usual.rest_minutes)
    return replace(day.around, rest_minutes=rest)


def _good(good: tuple[float, float], day: Day, volume: float, around: Circumstances) -> bool:
    low, high = day.account.volume_in_effect(np.array(good), day.usual)
    counts = float(day.account.volume_in_effect(np.array([volume]), around)[0])
    return bool(low <= counts <= high)


def _left_of_wait(day: Day) -> float:
    """Share of a warm-up that is left after the wait beyond the usual rest."""
    waited = day.around.rest_minutes - _awake(day).rest_minutes
    return float(2.0 ** (-waited / day.account.half_life_minutes))


def _top_up(needs: Needs, day: Day, volume: float) -> float:
    """Efforts that bring back what a wait has taken, once it has taken too much.

    If no good range is known, that is after a wait so long that studies found it worth doing some
    efforts again.
    """
    account, around, good = day.account, day.around, needs.good_range
    if around.rest_minutes <= (LONG_MINUTES if good is None else day.usual.rest_minutes):
        return 0.0
    # Bring back no more than the wait took: an athlete who does less than the good range on a
    # usual day does so today as well.
    low = float(account.volume_in_effect(np.array([volume]), _awake(day))[0])
    if good is not None:
        low = min(low, float(account.volume_in_effect(np.array(good[:1]), day.usual)[0]))
    counts = float(account.volume_in_effect(np.array([volume]), around)[0])
    missing = (low - counts) / account.stretch(around)
    return float(min(ceil(missing - 1e-9), MOST_TOP_UP)) if missing >= LEAST_GAIN else 0.0
