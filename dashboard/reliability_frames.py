"""How well a measure repeats, as the rows that the store keeps with its fit."""

from __future__ import annotations

from dataclasses import asdict, fields
from math import isfinite
from typing import TYPE_CHECKING

import pandas as pd

from db.measures import Measure
from db.reliability import (
    BASES,
    COMPARED_COLUMNS,
    ESTIMATE_COLUMNS,
    NEED_COLUMNS,
    TRIAL_COLUMNS,
    ReliabilityRows,
)

if TYPE_CHECKING:
    from modeling import Estimate, Squad
    from modeling.reliability import Reliability
    from modeling.usual_sessions import UsualSessions
    from modeling.variance_components import Bounded

EFFORTS_ASKED = (1, 2, 3, 5, 10)
"""Numbers of efforts in a session for which it is said what they show."""


def reliability_rows(rows: pd.DataFrame, measure: Measure, squad: Squad) -> ReliabilityRows:
    """Compare the routine sessions of a measure with each other.

    Parameters
    ----------
    rows
        What was fitted: `db.efforts.observations`.
    measure
        The measure, with the change that the team holds worthwhile.
    squad
        What the fit says of the noise of days and efforts.
    """
    from modeling.errors import ModelError
    from modeling.reliability import reliability
    from modeling.usual_sessions import usual_sessions

    routine = rows[rows["kind"] == "routine"].rename(columns={"session_id": "session"})
    usual = usual_sessions(routine, measure.better == "higher")
    try:
        found = reliability(usual.trials, BASES)
    except ModelError:
        # Too little to compare: the page says so, and what to do.
        return ReliabilityRows(usual.usual_efforts, _compared(usual), *_nothing())
    return ReliabilityRows(
        usual_efforts=usual.usual_efforts,
        compared=_compared(usual),
        estimates=pd.DataFrame(
            [
                {"basis": basis, "quantity": quantity} | _ends(bounded)
                for basis in BASES
                for quantity, bounded in _quantities(found[basis], usual, basis).items()
            ]
        ),
        trials=pd.DataFrame(
            [
                {"basis": basis, "trial": each.trial} | _named("change_pct", each.change_pct)
                for basis in BASES
                for each in found[basis].trials
            ],
            columns=TRIAL_COLUMNS,
        ),
        needs=_needs(found["mean"].smallest_worthwhile_pct, measure.worthwhile_pct, squad),
    )


def _compared(usual: UsualSessions) -> pd.DataFrame:
    columns = {"session": "session_id", "mean": "mean_value", "best": "best_value"}
    return usual.sessions.rename(columns=columns)[COMPARED_COLUMNS]


def _nothing() -> list[pd.DataFrame]:
    return [pd.DataFrame(columns=each) for each in (ESTIMATE_COLUMNS, TRIAL_COLUMNS, NEED_COLUMNS)]


def _quantities(found: Reliability, usual: UsualSessions, basis: str) -> dict[str, Bounded]:
    """Return every estimate by the name under which it is kept."""
    from modeling.variance_components import Bounded

    quantities = {
        field.name: value
        for field in fields(found)
        if isinstance(value := getattr(found, field.name), Bounded)
    }
    if found.pairs:
        quantities["change_in_mean"] = found.pairs.difference
        quantities["lower_limit"] = found.pairs.lower
        quantities["upper_limit"] = found.pairs.upper
    lead = usual.best_above_mean_pct()
    return quantities | ({"best_above_mean_pct": lead} if basis == "best" and lead else {})


def _needs(smallest: Bounded, setting_pct: float, squad: Squad) -> pd.DataFrame:
    from modeling.detection import detectable_change, sessions_needed
    from modeling.variance_components import Bounded

    day, effort = _bounded(squad.day_noise_pct), _bounded(squad.effort_noise_pct)
    setting = Bounded(setting_pct, setting_pct, setting_pct)
    records = []
    for efforts in EFFORTS_ASKED:
        shows = detectable_change(day, effort, efforts)
        records.append(
            {"efforts": efforts}
            | _named("detectable_pct", shows)
            | _named("smallest_sessions", sessions_needed(shows, smallest))
            | _named("setting_sessions", sessions_needed(shows, setting))
        )
    return pd.DataFrame(records)


def _bounded(estimate: Estimate) -> Bounded:
    from modeling.variance_components import Bounded

    return Bounded(estimate.median, estimate.low, estimate.high)


def _ends(bounded: Bounded) -> dict[str, float]:
    found = asdict(bounded)
    return {"estimate": found["value"], "low": found["low"], "high": found["high"]}


def _named(name: str, bounded: Bounded | None) -> dict[str, float | None]:
    """Return an estimate as three columns; what is not known or has no end is missing."""
    if bounded is None:
        return dict.fromkeys((name, f"{name}_low", f"{name}_high"))
    high = bounded.high if isfinite(bounded.high) else None
    return {name: bounded.value, f"{name}_low": bounded.low, f"{name}_high": high}
