"""What changed between the newest curves of a measure and the ones before."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.fits.usual_terms import responses
from db.file.store import Store
from db.fits.results import newest_fits


@dataclass(frozen=True)
class ChangedCall:
    """An athlete whose call changed from one fit to the next."""

    name: str
    before: str
    after: str


@dataclass(frozen=True)
class FitNews:
    """What the newest fit of a measure brought.

    Attributes
    ----------
    fit_id : int
        The number of the fit.
    first : bool
        Whether there were no curves before.
    calls : tuple of ChangedCall
        The active athletes who are in both fits and whose call changed, by name.
    """

    fit_id: int
    first: bool
    calls: tuple[ChangedCall, ...] = ()


def fit_news(store: Store, measure: str) -> FitNews | None:
    """Return what the newest fit of a measure brought; None without a fit."""
    numbers = newest_fits(store, measure, 2)
    if not numbers:
        return None
    if len(numbers) == 1:
        return FitNews(numbers[0], first=True)
    newest, before = (responses(store, measure, fit_id=number) for number in numbers)
    both = before.merge(
        newest.loc[newest["active"]], on=["athlete", "name"], suffixes=("_before", "")
    ).sort_values(["name", "athlete"])
    changed = both[both["call_before"] != both["call"]]
    calls = zip(changed["name"], changed["call_before"], changed["call"], strict=True)
    return FitNews(numbers[0], first=False, calls=tuple(ChangedCall(*call) for call in calls))
