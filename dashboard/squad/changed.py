"""Which calls changed from the curves of a week ago to the newest."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from dashboard.week.fit_moments import FitMoment, calls_between, fit_moments
from db.file.store import Store
from db.plans.weeks import fits_a_week_apart


@dataclass(frozen=True)
class ChangedCalls:
    """Calls of the newest curves, compared with those of a week earlier.

    Attributes
    ----------
    first : FitMoment or None
        The first curves there are.
    earlier, newest : FitMoment or None
        The two that are compared; `earlier` is None while no curves are a week older.
    calls : DataFrame
        The athletes whose call changed: see `dashboard.week.fit_moments.calls_between`.
    """

    first: FitMoment | None
    earlier: FitMoment | None
    newest: FitMoment | None
    calls: pd.DataFrame


def changed_calls(store: Store, measure: str) -> ChangedCalls:
    """Compare the newest curves of a measure with the newest that are at least a week older."""
    kept = fit_moments(store, measure)
    numbers = fits_a_week_apart(store, measure)
    compared = [next(each for each in kept if each.fit_id == number) for number in numbers]
    newest = compared[-1] if compared else None
    earlier = compared[0] if len(compared) == 2 else None
    calls = calls_between(store, measure, (earlier, newest))
    if len(calls):
        calls = calls[calls["call_before"] != calls["call_after"]].reset_index(drop=True)
    return ChangedCalls(kept[0] if kept else None, earlier, newest, calls)
