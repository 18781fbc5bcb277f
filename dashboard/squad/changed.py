"""Which calls changed since the curves of a week before the newest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pandas as pd

from dashboard.week.fit_moments import FitMoment, calls_between, fit_moments
from db.file.store import Store

WEEK = timedelta(days=7)


@dataclass(frozen=True)
class ChangedCalls:
    """Calls of the newest curves against those of a week earlier.

    Attributes
    ----------
    first : FitMoment or None
        The first curves there are.
    earlier, newest : FitMoment or None
        The two that are compared; `earlier` is None while no curves are a week older.
    calls : DataFrame
        The athletes whose call changed: see `dashboard.week.report.calls_between`.
    """

    first: FitMoment | None
    earlier: FitMoment | None
    newest: FitMoment | None
    calls: pd.DataFrame


def changed_calls(store: Store, measure: str) -> ChangedCalls:
    """Compare the newest kept curves of a measure with the newest that are a week older."""
    kept = fit_moments(store, measure)
    newest = kept[-1] if kept else None
    older = [each for each in kept if newest and each.fitted_at <= newest.fitted_at - WEEK]
    earlier = older[-1] if older else None
    calls = calls_between(store, measure, (earlier, newest))
    if len(calls):
        calls = calls[calls["call_before"] != calls["call_after"]].reset_index(drop=True)
    return ChangedCalls(kept[0] if kept else None, earlier, newest, calls)
