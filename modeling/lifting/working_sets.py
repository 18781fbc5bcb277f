"""When a set counts as work, which depends on what it is for.

All shares are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["STRENGTH_SHARE", "WorkingLoads", "working_loads"]

STRENGTH_SHARE = 0.70
NEAR_DAYS_LOAD = 0.95
"""Share of the day's load from which a set counts; a lighter set only builds up to it."""
POWER_SHARES = (0.30, 0.60)


@dataclass(frozen=True)
class WorkingLoads:
    """Range of loads at which a set counts as work; `most` is None if there is no upper end."""

    least: float
    most: float | None = None

    def hold(self, load: float) -> bool:
        """Whether a set at a load counts."""
        return self.least <= load and (self.most is None or load <= self.most)


def working_loads(goal: str, kind: str, maximum: float, load: float) -> WorkingLoads | None:
    """Give the loads at which a set counts as work; None if the load does not decide.

    Parameters
    ----------
    goal, kind : str
        As for `modeling.lifting.session_order.OrderedExercise`.
    maximum : float
        One-repetition maximum.
    load : float
        Working load of the day, in the same unit.

    Notes
    -----
    Strength counts from 70 % of the maximum on, and not more than 5 % below the day's load. Power
    counts at 30 to 60 % of the maximum, except in weightlifting, where the lift sets the load. For
    growth it matters how near a set comes to failure, for speed and skill how well it is done.
    """
    if goal == "strength":
        return WorkingLoads(max(STRENGTH_SHARE * maximum, NEAR_DAYS_LOAD * load))
    if goal == "power" and kind != "weightlifting":
        return WorkingLoads(POWER_SHARES[0] * maximum, POWER_SHARES[1] * maximum)
    return None
