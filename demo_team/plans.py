"""What was planned for the last weeks of the season, and what was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from demo_team.club import MEASURES, TRUE_ACCOUNT, USUAL, WORTHWHILE_PCT
from demo_team.days import PLANS_SINCE
from demo_team.planted import Planted
from demo_team.trial import ATHLETE as TRIAL_ATHLETE
from demo_team.trial import MEASURE as TRIAL_MEASURE
from demo_team.trial import trial_volumes
from modeling.day.caution import most_efforts

__all__ = ["MOST_MEASURED", "SetLength", "length_set", "own_length", "plans_table"]

MOST_MEASURED = 3
"""The most efforts measured after a warm-up; they count towards the day's most."""

FOLLOWS, DOES_THE_STANDARD = 0.65, 0.6
"""Chance that an athlete does what is set, and, if not, that they do the standard."""
HURRIED = (0.5, 0.8)
"""Otherwise they cut the length short, to a share between these."""
USUAL_SPREAD = 0.2
"""Standard deviation of what is done by feel around the standard, in logs."""

COLUMNS = (
    "day athlete measure goal efforts_to_follow advised_volume standard_volume chosen_volume "
    "reason done_volume outcome"
).split()


@dataclass(frozen=True)
class SetLength:
    """A length before a session.

    Attributes
    ----------
    advised, chosen : float
        What was advised, and what was set.
    reason : str
        Why they differ.
    done : int
        What was done.
    """

    advised: float
    chosen: float
    reason: str
    done: int


def length_set(
    measure: str, athlete: str, plan: Planted, day: date, rng: np.random.Generator
) -> SetLength:
    """Return the length that was set for an athlete on a day, and draw what was done."""
    standard, kind = MEASURES[measure].standard_volume, MEASURES[measure].effort
    most = most_efforts(kind) - MOST_MEASURED
    follows, standard_instead, spread, cut = (*rng.random(2), rng.standard_normal(), rng.random())
    if athlete == TRIAL_ATHLETE and measure == TRIAL_MEASURE and day in trial_volumes():
        drawn = trial_volumes()[day]
        return SetLength(own_length(measure, plan), drawn, "in a trial", int(drawn))
    if day < PLANS_SINCE:
        by_feel = round(standard * float(np.exp(USUAL_SPREAD * spread)))
        return SetLength(standard, standard, "", min(by_feel, most))
    advised = own_length(measure, plan)
    chosen = min(advised, most)
    reason = f"room for {MOST_MEASURED} that are measured" if chosen < advised else ""
    done = chosen
    if follows > FOLLOWS:
        shorter = round(chosen * (HURRIED[0] + cut * (HURRIED[1] - HURRIED[0])))
        with_others = chosen != standard and standard_instead < DOES_THE_STANDARD
        done = standard if with_others else max(shorter, 1)
    return SetLength(advised, chosen, reason, int(done))


def own_length(measure: str, plan: Planted) -> float:
    """Return an athlete's true length by the tool's rule.

    It is the standard if no more than the smallest worthwhile change is lost there. Otherwise it
    is the true best volume in the club's usual circumstances, up to the most of a day.
    """
    facts = MEASURES[measure]
    counted = TRUE_ACCOUNT.volume_in_effect(np.array([facts.standard_volume]), USUAL)[0]
    if plan.truth().loss_pct(float(counted)) <= WORTHWHILE_PCT[measure]:
        return facts.standard_volume
    best = float(np.round(TRUE_ACCOUNT.volume_to_do(np.array([plan.best_volume]), USUAL)[0]))
    return min(max(best, 1.0), float(most_efforts(facts.effort)))


def plans_table(
    efforts: pd.DataFrame, set_lengths: dict[tuple[str, str], SetLength]
) -> pd.DataFrame:
    """Return the plan of each routine session of the last weeks, with what was done.

    Parameters
    ----------
    efforts : DataFrame
        Of one measure: the efforts file as text columns, before any mistake is put in.
    set_lengths : dict of (str, str) to SetLength
        By athlete and start of the session.
    """
    first = efforts[(efforts["kind"] == "routine") & (efforts["effort"] == "1")]
    first = first[first["started_at"] >= PLANS_SINCE.isoformat()]
    rows = []
    for row in first.to_dict("records"):
        athlete, started_at, measure = row["athlete"], row["started_at"], row["measure"]
        if (athlete, measure) == (TRIAL_ATHLETE, TRIAL_MEASURE) and row["context"] == "training":
            continue
        length = set_lengths[athlete, started_at]
        rows.append(
            {
                "day": started_at[:10],
                "athlete": athlete,
                "measure": measure,
                "goal": "best",
                "efforts_to_follow": "1",
                "advised_volume": f"{length.advised:.0f}",
                "standard_volume": f"{MEASURES[measure].standard_volume:.0f}",
                "chosen_volume": f"{length.chosen:.0f}",
                "reason": length.reason,
                "done_volume": row["volume_before"],
                "outcome": row["value"],
            }
        )
    return pd.DataFrame(rows, columns=COLUMNS).sort_values(["day", "athlete"])
