"""Results with volumes as done in the squad's usual circumstances, which is how pages show them.

A fit gives volumes in effect: without a general part, without rest, at 20 degrees. Nobody warms
up like that, so what a page calls 15 is 15 as the squad usually does them. A fit that was saved
before there was an account is shown as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboard.core.once import once
from db.efforts.rows import efforts
from db.file.store import Store
from db.fits import best_volume_changes as kept_changes
from db.fits import fit_checks, results
from db.fits import squad_worth as kept_worth
from db.fits.advice_bases import AdviceBase, account_constants, advice_base
from db.fits.fit_checks import FitCheck
from db.fits.results import KeptFit
from db.roster.measures import Measure
from db.roster.protocols import rest_asked_for
from modeling.curve.account import REFERENCE_C, REFERENCE_HOUR, Account, Circumstances, Work
from modeling.curve.pauses import pause_minutes
from modeling.curve.usual_volumes import CIRCUMSTANCES, SPANS, VOLUMES, UsualVolumes

CHANGING = "before before_low before_high after after_low after_high".split()
BAND_VOLUMES = "lowest_volume highest_volume mean_volume".split()


@dataclass(frozen=True)
class UsualTerms(UsualVolumes):
    """Turns volumes in effect into volumes to do in the usual circumstances.

    Attributes
    ----------
    base : AdviceBase
        Standard and usual circumstances, as the fit saved them.
    """

    base: AdviceBase

    @classmethod
    def of(cls, base: AdviceBase, account: Account) -> UsualTerms:
        """Build the terms from what a fit saved."""
        usual = Circumstances(**{name: getattr(base, name) for name in CIRCUMSTANCES})
        return cls(account, usual, base)

    def as_done(self, rows: pd.DataFrame, asked_seconds: float | None) -> npt.NDArray[np.float64]:
        """Return the volumes that would have counted for as much in the usual circumstances.

        Parameters
        ----------
        rows : DataFrame
            Efforts of whole sessions: `session_id`, `started_at`, `volume`, and the facts.
        asked_seconds : float or None
            Rest between efforts that the measure asks for, as `rest_asked_for` gives it.
        """
        before = rows.groupby("session_id")["volume"].transform("min")
        usual = self.usual
        hour = rows["started_at"].dt.hour + rows["started_at"].dt.minute / 60.0
        work = Work(
            before=_numbers(before),
            since=_numbers(rows["volume"] - before),
            general=_numbers(rows["general_minutes"].fillna(usual.general_minutes)),
            rest=_numbers(rows["rest_minutes"].fillna(0.0)),
            cold=REFERENCE_C - _numbers(rows["ambient_c"].fillna(usual.ambient_c)),
            early=_numbers((REFERENCE_HOUR - hour).clip(lower=0.0)),
            pause=pause_minutes(rows["effort_rest_seconds"], asked_seconds),
        )
        return self.to_do(self.account.in_effect(work))

    def response_rows(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Turn the volumes of responses into volumes to do."""
        turned = self.done(rows, (*VOLUMES, *SPANS))
        # Advice is in whole units.
        return turned.assign(advised_volume=np.round(turned["advised_volume"]))


@once
def usual_terms(store: Store, measure: str, fit_id: int | None = None) -> UsualTerms | None:
    """Return the terms of a measure's newest fit, or of a given one; None if it saved none."""
    base = advice_base(store, measure, fit_id)
    if base is None:
        return None
    constants = account_constants(store, measure, fit_id)
    values = constants["value"].fillna(np.inf).tolist()
    return UsualTerms.of(base, Account(**dict(zip(constants["constant"], values, strict=True))))


def terms_of(store: Store, measure: str, fit_id: int) -> UsualTerms | None:
    """Return the terms of a fit, reusing the remembered ones if it is the newest."""
    newest = latest_fit(store, measure)
    return usual_terms(store, measure, None if newest and newest.fit_id == fit_id else fit_id)


@once
def latest_fit(store: Store, measure: str) -> KeptFit | None:
    """Return the newest fit, with its standard and best single volume in usual terms."""
    fit = results.latest_fit(store, measure)
    terms = usual_terms(store, measure) if fit else None
    if fit is None or terms is None:
        return fit
    return replace(
        fit,
        standard_volume=terms.base.standard_volume,
        best_single_volume=float(terms.to_do(fit.best_single_volume)),
    )


@once
def responses(
    store: Store, measure: str, athlete: str | None = None, fit_id: int | None = None
) -> pd.DataFrame:
    """Return the responses of the newest fit, or of a given one."""
    rows = results.responses(store, measure, athlete, fit_id)
    terms = usual_terms(store, measure, fit_id)
    return rows if terms is None else terms.response_rows(rows)


def response_history(
    store: Store, measure: str, athlete: str, fits: Sequence[int] | None = None
) -> pd.DataFrame:
    """Return an athlete's responses in all fits, or in some, each in its usual terms."""
    rows = results.response_history(store, measure, athlete, fits)
    parts = []
    for fit_id, part in rows.groupby("fit_id", sort=False):
        terms = terms_of(store, measure, int(str(fit_id)))
        parts.append(part if terms is None else terms.response_rows(part))
    return pd.concat(parts) if parts else rows


def curves(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """Return the newest fit's curves."""
    rows, terms = results.curves(store, measure, athlete), usual_terms(store, measure)
    return rows if terms is None else terms.curve_rows(rows)


def squad_curve(store: Store, measure: str) -> pd.DataFrame:
    """Return the squad's curve of the newest fit."""
    rows, terms = results.squad_curve(store, measure), usual_terms(store, measure)
    return rows if terms is None else terms.curve_rows(rows)


def best_volume_changes(
    store: Store, measure: str, athlete: str | None = None, least_chance: float = 0.0
) -> pd.DataFrame:
    """Return the changes of best volume in the newest fit, likeliest first."""
    rows = kept_changes.best_volume_changes(store, measure, athlete, least_chance)
    terms = usual_terms(store, measure)
    if terms is None:
        return rows
    return rows.assign(**{name: terms.to_do(rows[name]) for name in CHANGING})


def squad_worth(store: Store, measure: str) -> pd.DataFrame:
    """Return what own lengths are worth according to the newest fit."""
    rows, terms = kept_worth.squad_worth(store, measure), usual_terms(store, measure)
    return rows if terms is None else rows.assign(volume=terms.to_do(rows["volume"]))


def latest_check(store: Store, measure: str) -> FitCheck | None:
    """Return the check of the newest fit, with its bands of volume in usual terms."""
    found, terms = fit_checks.latest_check(store, measure), usual_terms(store, measure)
    if found is None or terms is None:
        return found
    turned = {name: terms.to_do(found.bands[name]) for name in BAND_VOLUMES}
    return replace(found, bands=found.bands.assign(**turned))


def placed_efforts(store: Store, measure: Measure, athlete: str) -> pd.DataFrame:
    """Return an athlete's usable efforts as `share_pct` of that day's peak.

    Sessions newer than the fit have no peak to compare with, so their efforts are left out.
    Columns: `volume` (what would have counted for as much in the usual circumstances),
    `share_pct, value, started_at`.
    """
    rows = efforts(store, measure.code, athlete)
    rows = rows[rows["excluded"].isna()].merge(
        results.session_peaks(store, measure.code, athlete)[["session_id", "peak_value"]],
        on="session_id",
    )
    ratio = rows["value"] / rows["peak_value"]
    rows["share_pct"] = 100 * (ratio if measure.better == "higher" else 1 / ratio)
    terms = usual_terms(store, measure.code)
    if terms is not None:
        rows["volume"] = terms.as_done(rows, rest_asked_for(store, measure))
    return rows[["volume", "share_pct", "value", "started_at"]]


def _numbers(column: pd.Series) -> npt.NDArray[np.float64]:
    return column.to_numpy(dtype=float)
