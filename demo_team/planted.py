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
        What the athlete was planted for: late, early, fine, one session, or nothing special.
    shape : str
        One of the shapes of the simulator.
    best_volume, hold_volume : float
        Wanted peak and hold in efforts.
    gain : float
        Wanted rise from cold to the peak, as a share in logs.
    level : float
        Value at the peak on an average day, in the measure's unit.
    fade_tests, routine_sessions : int
        Numbers of each that were planned; on a day with pain none is made.
    """

    story: str
    shape: str
    best_volume: float
    gain: float
    hold_volume: float
    level: float
    fade_tests: int
    routine_sessions: int

    def truth(self) -> Truth:
        """Make the true curve."""
        return truth(self.shape, self.best_volume, self.gain, self.hold_volume, self.level)


JUMPS = {
    "H01": Planted("", RICKER, 8, 0.06, 15, 37.5, 2, 9),
    "H02": Planted("", SATURATING, 22, 0.07, 26, 39.0, 2, 8),
    "H03": Planted("fine", POWER, 15, 0.08, 24, 44.2, 3, 13),
    "H04": Planted("", POWER, 26, 0.08, 30, 46.8, 2, 10),
    "H05": Planted("fine", RICKER, 13, 0.07, 24, 41.3, 3, 14),
    "H06": Planted("", RICKER, 19, 0.06, 22, 40.1, 1, 7),
    "H07": Planted("early", POWER, 3, 0.06, 8, 45.5, 3, 11),
    "H08": Planted("", SATURATING, 9, 0.05, 18, 36.4, 2, 6),
    "H09": Planted("fine", RICKER, 16, 0.09, 26, 42.6, 3, 12),
    "H10": Planted("", POWER, 11, 0.06, 16, 38.8, 1, 9),
    "H11": Planted("", SATURATING, 33, 0.09, 32, 35.2, 2, 8),
    "H12": Planted("late", POWER, 72, 0.13, 60, 43.0, 3, 14),
    "H13": Planted("", RICKER, 10, 0.06, 15, 36.9, 2, 7),
    "H14": Planted("fine", RICKER, 17, 0.07, 26, 43.7, 3, 13),
    "H15": Planted("", POWER, 6, 0.05, 11, 48.1, 2, 10),
    "H16": Planted("", SATURATING, 13, 0.07, 20, 41.9, 1, 8),
    "H17": Planted("", RICKER, 28, 0.08, 27, 45.0, 2, 9),
    "H18": Planted("fine", SATURATING, 17, 0.09, 28, 40.7, 3, 14),
    "H19": Planted("", POWER, 20, 0.07, 24, 38.0, 2, 6),
    "H20": Planted("fine", POWER, 17, 0.08, 22, 39.6, 3, 12),
    "H21": Planted("", RICKER, 12, 0.06, 17, 46.1, 1, 10),
    "H22": Planted("", POWER, 38, 0.09, 34, 42.2, 2, 11),
    "H23": Planted("", SATURATING, 5, 0.05, 13, 47.3, 1, 5),
    "H24": Planted("", RICKER, 16, 0.07, 19, 40.4, 2, 5),
    "H25": Planted("one session", SATURATING, 12, 0.07, 18, 38.3, 0, 1),
}

THROWS = {
    "H03": Planted("fine", POWER, 13, 0.07, 18, 23.8, 2, 8),
    "H04": Planted("", RICKER, 9, 0.06, 15, 22.6, 1, 5),
    "H05": Planted("fine", RICKER, 12, 0.08, 20, 26.1, 2, 8),
    "H06": Planted("", SATURATING, 18, 0.07, 22, 25.4, 2, 6),
    "H07": Planted("", POWER, 7, 0.05, 13, 23.1, 2, 5),
    "H08": Planted("", RICKER, 14, 0.06, 18, 24.0, 1, 4),
    "H09": Planted("fine", POWER, 14, 0.07, 20, 24.9, 2, 8),
    "H10": Planted("", SATURATING, 24, 0.08, 26, 25.7, 2, 6),
    "H11": Planted("", RICKER, 8, 0.05, 13, 22.2, 1, 4),
    "H12": Planted("", POWER, 30, 0.08, 30, 26.6, 2, 7),
    "H13": Planted("", RICKER, 11, 0.06, 16, 22.9, 1, 3),
    "H14": Planted("fine", SATURATING, 11, 0.07, 18, 25.2, 2, 8),
    "H16": Planted("", POWER, 16, 0.07, 20, 24.4, 2, 5),
    "H17": Planted("", SATURATING, 10, 0.06, 17, 23.4, 1, 6),
    "H18": Planted("", RICKER, 20, 0.08, 22, 25.9, 2, 5),
    "H20": Planted("", RICKER, 15, 0.07, 20, 26.3, 2, 6),
    "H21": Planted("", SATURATING, 6, 0.05, 14, 22.8, 1, 4),
    "H22": Planted("", RICKER, 13, 0.06, 19, 24.6, 2, 5),
    "H24": Planted("", POWER, 12, 0.06, 17, 25.0, 1, 3),
}

PLANTED = {"jump_height": JUMPS, "throw_speed": THROWS}


def truth_table() -> pd.DataFrame:
    """Give the truth of every athlete and measure; an athlete not measured has blanks.

    Volumes in efforts in effect (nothing general, no rest, 20 degrees), levels in the measure's
    unit, gain and loss in % of the peak; the loss is at the standard in usual circumstances.
    """
    rows = []
    for measure, plans in PLANTED.items():
        for player in ROSTER:
            plan = plans.get(player.athlete)
            rows.append({"athlete": player.athlete, "measure": measure} | _facts(measure, plan))
    return pd.DataFrame(rows)


def _facts(measure: str, plan: Planted | None) -> dict[str, object]:
    if plan is None:
        return {"story": "no data", "fade_tests": 0, "routine_sessions": 0}
    true = plan.truth()
    standard = np.array([MEASURES[measure].standard_volume])
    counted = float(TRUE_ACCOUNT.volume_in_effect(standard, USUAL)[0])
    return {
        "story": plan.story,
        "fade_tests": plan.fade_tests,
        "routine_sessions": plan.routine_sessions,
        "shape": true.shape,
        "level": true.level,
        "best_volume": true.best_volume,
        "gain_pct": round(100.0 * float(np.expm1(true.gain)), 1),
        "hold_volume": round(true.hold_volume, 1),
        "loss_at_standard_pct": round(abs(true.loss_pct(counted)), 1),
    }
