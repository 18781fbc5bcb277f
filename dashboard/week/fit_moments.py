"""Which curves were the newest at the end of a week, and what two of them say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pandas as pd

from dashboard.fits.usual_terms import responses
from db.file.store import Store
from db.plans import weeks


@dataclass(frozen=True)
class Week:
    """Seven days from a Monday on."""

    first: date

    @classmethod
    def of(cls, day: date) -> Week:
        """Return the week of a day."""
        return cls(day - timedelta(days=day.weekday()))

    @property
    def last(self) -> date:
        """Its Sunday."""
        return self.first + timedelta(days=6)

    @property
    def before(self) -> Week:
        """The week before."""
        return Week(self.first - timedelta(days=7))


@dataclass(frozen=True)
class FitMoment:
    """A fit's number, and when it was made.

    A fit of an earlier day counts as made on that day; `data_basis` says what counts as its data.
    """

    fit_id: int
    fitted_at: datetime
    data_basis: str | None = None


def fit_moments(store: Store, code: str) -> list[FitMoment]:
    """Return when the fits of a measure were made, the oldest first."""
    rows = weeks.fit_moments(store, code)
    return [
        FitMoment(fit_id, fitted_at, None if pd.isna(basis) else basis)
        for fit_id, fitted_at, basis in rows.itertuples(index=False)
    ]


def newest_at_end(kept: Sequence[FitMoment], week: Week) -> FitMoment | None:
    """Return the newest fit made by the end of a week (UTC); None if there is none."""
    until = [each for each in kept if each.fitted_at.date() <= week.last]
    return until[-1] if until else None


def calls_between(
    store: Store, code: str, moments: tuple[FitMoment | None, FitMoment | None]
) -> pd.DataFrame:
    """Return what two fits say about the active athletes in both, each in its own usual terms.

    Empty if one is missing or both are the same.
    """
    earlier, later = moments
    if earlier is None or later is None or earlier == later:
        return pd.DataFrame()
    before, after = (responses(store, code, fit_id=each.fit_id) for each in (earlier, later))
    both = before.merge(
        after.loc[after["active"]], on=["athlete", "name"], suffixes=("_before", "_after")
    )
    return both.sort_values(["name", "athlete"]).reset_index(drop=True)
