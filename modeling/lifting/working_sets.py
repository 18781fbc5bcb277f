"""When a set counts as work, which depends on what it is for.

All shares are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["STRENGTH_SHARE", "WorkingLoads", "working_loads"]

STRENGTH_SHARE = 0.70
NEAR_DAYS_LOAD = 0.95
"""Within reach of the day's load: a lighter set of few repetitions only leads up to it."""
POWER_SHARES = (0.30, 0.60)


@dataclass(frozen=True)
class WorkingLoads:
    """Loads from which, and up to which, a set counts as work; None where there is no such end."""

    least: float
    most: float | None = None

    def hold(self, load: float) -> bool:
        """Whether a set at a load counts."""
        return self.least <= load and (self.most is None or load <= self.most)


def working_loads(goal: str, kind: str, maximum: float, load: float) -> WorkingLoads | None:
    """Give the loads at which a set counts as work; None where the load does not decide.

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
    Heavy strength: from 70 % of the maximum and within 5 % of the day's load. Power at 30 to
    60 %, but for weightlifting, where the lift sets the load. Growth goes by how near a set comes
    to failure, speed and skill by how well it is done.
    """
    if goal == "strength":
        return WorkingLoads(max(STRENGTH_SHARE * maximum, NEAR_DAYS_LOAD * load))
    if goal == "power" and kind != "weightlifting":
        return WorkingLoads(POWER_SHARES[0] * maximum, POWER_SHARES[1] * maximum)
    return None
