"""The data that a fit would have had a week ago, to see what has changed since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import pandas as pd

from db.efforts.rows import observations_of
from db.file.store import Store
from db.plans.weeks import days_known, fit_moments

WEEK = timedelta(days=7)
FEWEST_EFFORTS = 10
FEWEST_VOLUMES = 3
"""Fewer cannot show a rise and a fall above the noise of single efforts."""


@dataclass(frozen=True)
class EarlierData:
    """The data of an earlier day.

    Attributes
    ----------
    until : date
        The last day of the data.
    basis : str
        `stored` or `held`: see `db.efforts.rows.observations_of`.
    rows : DataFrame
        As `db.efforts.rows.observations`.
    """

    until: date
    basis: str
    rows: pd.DataFrame


def enough(rows: pd.DataFrame) -> bool:
    """Tell whether there are enough rows for a fit."""
    return len(rows) >= FEWEST_EFFORTS and rows["volume"].nunique() >= FEWEST_VOLUMES


def data_of_a_week_ago(store: Store, measure: str) -> EarlierData | None:
    """Return the data of a measure as they were a week before the last session.

    These are the efforts the store had by then. If the store is younger or had too few, they are
    the efforts of the sessions up to then. None if those are too few as well, or if there is
    already a fit from that time to compare with.
    """
    known, today = days_known(store, measure), datetime.now(UTC).date()
    if known is None:
        return None
    until = min(known[1], today) - WEEK
    days = fit_moments(store, measure)["fitted_at"].dt.date
    if ((days > until - WEEK) & (days <= today - WEEK)).any():
        return None
    for basis in ("stored", "held"):
        rows = observations_of(store, measure, until, basis)
        if enough(rows):
            return EarlierData(until, basis, rows)
    return None
