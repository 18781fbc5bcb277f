"""Which curves are behind what the store holds, and why."""

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
    """What came to a measure since its newest fit.

    Attributes
    ----------
    newer : int
        Efforts stored, changed or taken back since; all of them where there is no fit.
    standard_volume, worthwhile_pct : float or None
        What they are now where they were changed since, else None.
    without : int
        Active athletes whom the newest fit does not know.
    others_changed : bool
        Whether what other clubs say of the measure was changed since.
    stopped_early : bool
        Whether what follows from the curves was never worked out.
    fit_id : int
        The number of the newest fit, 0 where there is none.
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
    """Return what came to a measure since its newest fit, given in usual terms."""
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
    """Return the measures whose curves are behind, by code, with why.

    Those that have too few efforts for curves are not among them.
    """
    due = {}
    for measure in measured(store):
        fit = latest_fit(store, measure.code)
        why = behind(store, measure, fit)
        if why and enough(observations(store, measure.code)):
            due[measure.code] = why
    return due
