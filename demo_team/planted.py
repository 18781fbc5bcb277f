from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from demo_team.club import MEASURES, TRUE_ACCOUNT, USUAL
from demo_team.roster import ROSTER
from modeling.testing.simulation import Truth, truth

SATURATING = "saturating less linear"
RICKER = "Ricker"
POWER = "power, saturating fall"


@dataclass(frozen=True)
class Planted:
    """One athlete's true response to one measure, and how much of it was measured.

    Attributes
    ----------
    story : str
        What the athlete was planted for: late, very late, early, fine, one session, or empty for
        nothing special.
    shape : str
        One of the shapes of the simulator.
    best_volume, hold_volume : float
        Wanted peak and hold in efforts.
    gain : float
        Wanted rise from cold to the peak, as a share in logs.
    level : float
        Value at the peak on an average day, in the measure's unit.
    fade_tests : int
        How many were planned; none is made while the athlete is out.
    training_sessions : int
        On how many training days the athlete was measured; games come on top.
    """

    story: str
    shape: str
    best_volume: float
    gain: float
    hold_volume: float
    level: float
    fade_tests: int
    training_sessions: int

    def truth(self) -> Truth:
        """Make the true curve."""
        return truth(self.shape, self.best_volume, self.gain, self.hold_volume, self.level)


JUMPS = {
    "H01": Planted("", RICKER, 8, 0.06, 15, 37.5, 2, 2),
    "H02": Planted("", SATURATING, 20, 0.065, 32, 39.0, 2, 3),
    "H03": Planted("fine", POWER, 15, 0.07, 26, 44.2, 3, 4),
    "H04": Planted("", POWER, 24, 0.07, 34, 46.8, 2, 3),
    "H05": Planted("fine", RICKER, 13, 0.06, 28, 41.3, 3, 4),
    "H06": Planted("", RICKER, 11, 0.05, 18, 40.1, 1, 2),
    "H07": Planted("early", POWER, 3, 0.05, 8, 45.5, 3, 3),
    "H08": Planted("", SATURATING, 9, 0.045, 20, 36.4, 2, 2),
    "H09": Planted("fine", RICKER, 16, 0.075, 28, 42.6, 2, 4),
    "H10": Planted("", POWER, 10, 0.06, 16, 38.8, 1, 3),
    "H11": Planted("", SATURATING, 7, 0.06, 14, 35.2, 2, 2),
    "H12": Planted("late", POWER, 34, 0.085, 36, 43.0, 3, 5),
    "H13": Planted("", RICKER, 10, 0.055, 16, 36.9, 2, 2),
    "H14": Planted("fine", RICKER, 17, 0.06, 30, 43.7, 2, 4),
    "H15": Planted("", POWER, 6, 0.045, 12, 48.1, 2, 3),
    "H16": Planted("", SATURATING, 12, 0.055, 20, 41.9, 1, 2),
    "H17": Planted("", RICKER, 27, 0.075, 30, 45.0, 2, 3),
    "H18": Planted("fine", SATURATING, 16, 0.08, 30, 40.7, 3, 4),
    "H19": Planted("", POWER, 18, 0.06, 24, 38.0, 2, 2),
    "H20": Planted("fine", POWER, 17, 0.07, 24, 39.6, 2, 4),
    "H21": Planted("", RICKER, 9, 0.055, 15, 46.1, 1, 3),
    "H22": Planted("very late", POWER, 66, 0.085, 80, 42.2, 3, 3),
    "H23": Planted("", SATURATING, 5, 0.045, 13, 47.3, 1, 2),
    "H24": Planted("", RICKER, 14, 0.06, 20, 40.4, 2, 2),
    "H25": Planted("one session", SATURATING, 12, 0.06, 18, 38.3, 0, 1),
}

THROWS = {
    "H03": Planted("fine", POWER, 13, 0.055, 90, 23.8, 2, 4),
    "H04": Planted("", RICKER, 8, 0.05, 18, 22.6, 2, 3),
    "H05": Planted("fine", RICKER, 12, 0.065, 100, 26.1, 2, 4),
    "H06": Planted("", SATURATING, 18, 0.06, 80, 25.4, 2, 3),
    "H07": Planted("", POWER, 7, 0.045, 60, 23.1, 2, 2),
    "H08": Planted("", RICKER, 14, 0.05, 90, 24.0, 1, 2),
    "H09": Planted("fine", POWER, 14, 0.06, 80, 24.9, 2, 4),
    "H10": Planted("", SATURATING, 26, 0.075, 70, 25.7, 2, 3),
    "H11": Planted("", RICKER, 6, 0.045, 14, 22.2, 2, 3),
    "H12": Planted("", POWER, 22, 0.06, 80, 26.6, 2, 4),
    "H13": Planted("", RICKER, 11, 0.05, 70, 22.9, 1, 2),
    "H14": Planted("fine", SATURATING, 12, 0.06, 90, 25.2, 2, 4),
    "H16": Planted("", POWER, 16, 0.055, 90, 24.4, 1, 2),
    "H17": Planted("", SATURATING, 10, 0.055, 70, 23.4, 1, 2),
    "H18": Planted("", RICKER, 20, 0.065, 100, 25.9, 2, 3),
    "H20": Planted("", RICKER, 15, 0.06, 110, 26.3, 2, 3),
    "H21": Planted("", SATURATING, 8, 0.045, 60, 22.8, 1, 2),
    "H22": Planted("", RICKER, 13, 0.05, 80, 24.6, 1, 2),
    "H24": Planted("", POWER, 12, 0.05, 80, 25.0, 1, 2),
}

COUNTS = ("fade_tests", "routine_sessions")
"""Columns of the truth that are counted once the season is made."""

PLANTED = {"jump_height": JUMPS, "throw_speed": THROWS}


def truth_table() -> pd.DataFrame:
    """Return the truth of every athlete and measure, with blanks for an athlete not measured.

    Volumes are in efforts in effect (nothing general, no rest, 20 degrees), levels in the
    measure's unit, gain and loss in % of the peak. The loss is at the standard in usual
    circumstances.
    """
    rows = []
    for measure, plans in PLANTED.items():
        for player in ROSTER:
            plan = plans.get(player.athlete)
            rows.append({"athlete": player.athlete, "measure": measure} | _facts(measure, plan))
    return pd.DataFrame(rows)


def _facts(measure: str, plan: Planted | None) -> dict[str, object]:
    if plan is None:
        return {"story": "no data"} | dict.fromkeys(COUNTS, 0)
    true = plan.truth()
    standard = np.array([MEASURES[measure].standard_volume])
    counted = float(TRUE_ACCOUNT.volume_in_effect(standard, USUAL)[0])
    return {
        "story": plan.story,
        **dict.fromkeys(COUNTS, 0),
        "shape": true.shape,
        "level": true.level,
        "best_volume": true.best_volume,
        "gain_pct": round(100.0 * float(np.expm1(true.gain)), 1),
        "hold_volume": round(true.hold_volume, 1),
        "loss_at_standard_pct": round(abs(true.loss_pct(counted)), 1),
    }
