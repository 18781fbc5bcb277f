"""Which curves are out of date, and why."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.fits.earlier_data import enough
from dashboard.fits.learned_files import prior_changed
from dashboard.fits.usual_terms import latest_fit
from db.efforts.rows import measured, observations
from db.file.store import Store
from db.fits.results import KeptFit, athletes_without, concluded, newer_data
from db.roster.measures import Measure


@dataclass(frozen=True)
class Behind:
    """What has changed for a measure since its newest fit.

    Attributes
    ----------
    newer : int
        Efforts saved, changed or taken back since; all of them if there is no fit.
    standard_volume, worthwhile_pct : float or None
        Their values now if they have changed since, else None.
    without : int
        Active athletes who are not in the newest fit.
    others_changed : bool
        Whether what other clubs say about the measure has changed since.
    stopped_early : bool
        Whether what follows from the curves was never worked out.
    fit_id : int
        The number of the newest fit, 0 if there is none.
    """

    newer: int = 0
    standard_volume: float | None = None
    worthwhile_pct: float | None = None
    without: int = 0
    others_changed: bool = False
    stopped_early: bool = False
    fit_id: int = 0

    def __bool__(self) -> bool:
        """Whether a fit would bring anything."""
        return self != Behind(fit_id=self.fit_id)


def behind(store: Store, measure: Measure, fit: KeptFit | None) -> Behind:
    """Return what has changed for a measure since its newest fit; `fit` is in usual terms."""
    newer = newer_data(store, measure.code)
    if fit is None:
        return Behind(newer)
    standard, worthwhile = measure.standard_volume, measure.worthwhile_pct
    return Behind(
        newer,
        standard if standard not in (None, fit.standard_volume) else None,
        worthwhile if worthwhile != fit.worthwhile_pct else None,
        athletes_without(store, measure.code),
        prior_changed(store, measure.code, fit.data_revision),
        not concluded(store, measure.code),
        fit.fit_id,
    )


def due_fits(store: Store) -> dict[str, Behind]:
    """Return the measures whose curves are out of date, by code, each with the reason.

    Measures with too few efforts for curves are left out.
    """
    due = {}
    for measure in measured(store):
        fit = latest_fit(store, measure.code)
        why = behind(store, measure, fit)
        if why and enough(observations(store, measure.code)):
            due[measure.code] = why
    return due
