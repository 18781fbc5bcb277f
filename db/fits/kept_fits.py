"""Save fits, with what follows from their curves."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import complete, fetch_number, insert
from db.file.store import Store
from db.fits.advice_bases import AdviceRows, insert_advice_base
from db.fits.best_volume_changes import insert_changes
from db.fits.findings import Findings, insert_findings
from db.fits.fit_checks import FitCheck, insert_check
from db.fits.next_tests import insert_next_tests
from db.fits.results import (
    CURVE_COLUMNS,
    PEAK_COLUMNS,
    RESPONSE_COLUMNS,
    FitFacts,
)
from db.fits.squad_worth import insert_worth

_FACTS = [field.name for field in fields(FitFacts)]


@dataclass(frozen=True, kw_only=True)
class Conclusions:
    """What is worked out from a fit once its curves are there; what is None is not saved.

    Attributes
    ----------
    check : FitCheck or None
        Whether the model describes the data.
    findings : Findings or None
        What looks wrong in the data.
    next_tests : DataFrame or None
        A row per athlete and kind: `db.fits.next_tests.NEXT_TEST_COLUMNS`.
    changes : DataFrame or None
        A row per athlete: `db.fits.best_volume_changes.CHANGE_COLUMNS`.
    """

    check: FitCheck | None = None
    findings: Findings | None = None
    next_tests: pd.DataFrame | None = None
    changes: pd.DataFrame | None = None


def keep_fit(
    store: Store,
    person: str,
    measure: str,
    fit: FitFacts,
    responses: pd.DataFrame,
    curves: pd.DataFrame,
    session_peaks: pd.DataFrame,
    conclusions: Conclusions | None = None,
    learned: str | None = None,
    advice: AdviceRows | None = None,
    worth: pd.DataFrame | None = None,
) -> int:
    """Save a fit with its results, beside those of older fits, and return its number.

    Parameters
    ----------
    store : Store
        Where to save it.
    person, measure : str
        Who asked for the fit, and the code of its measure.
    fit : FitFacts
        What made it, and what it says about the squad.
    responses : DataFrame
        A row per athlete: `RESPONSE_COLUMNS`.
    curves : DataFrame
        A row per athlete and volume: `CURVE_COLUMNS`; a missing athlete means the squad.
    session_peaks : DataFrame
        A row per session: `PEAK_COLUMNS`, the estimated value at the peak on that day.
    conclusions : Conclusions, optional
        What follows from the curves, if it is worked out already; see `keep_conclusions`.
    learned : str, optional
        What the fit learned about the squad, as JSON; without it no session can be folded in.
    advice : AdviceRows, optional
        What advice is worked out from; without it there is none.
    worth : DataFrame, optional
        A row per comparison: `db.fits.squad_worth.WORTH_COLUMNS`; without it none is saved.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    responses = complete(
        responses, RESPONSE_COLUMNS, "responses", "last_session", "good_from", "good_to"
    )
    curves = complete(curves, CURVE_COLUMNS, "curves", "athlete")
    session_peaks = complete(session_peaks, PEAK_COLUMNS, "session peaks")
    of_squad = curves["athlete"].isna()
    with store.writing(person, "keep fit", measure) as cursor:
        fit_id = _insert_fit(cursor, person, measure, fit)
        insert(cursor, "response", responses.assign(fit_id=fit_id))
        insert(cursor, "curve_point", curves[~of_squad].assign(fit_id=fit_id))
        squad = curves[of_squad].drop(columns="athlete")
        insert(cursor, "squad_curve_point", squad.assign(fit_id=fit_id))
        insert(cursor, "session_peak", session_peaks.assign(fit_id=fit_id))
        if learned is not None:
            cursor.execute(
                "INSERT INTO fit_learned (fit_id, learned_json) VALUES (?, ?)", [fit_id, learned]
            )
        if advice is not None:
            insert_advice_base(cursor, fit_id, measure, advice)
        if worth is not None:
            insert_worth(cursor, fit_id, worth)
        if conclusions is not None:
            _insert_conclusions(cursor, fit_id, conclusions)
    return fit_id


def keep_conclusions(
    store: Store, person: str, measure: str, fit_id: int, conclusions: Conclusions
) -> None:
    """Save what follows from the curves of a fit that was saved without it.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    with store.writing(person, "keep conclusions of fit", measure) as cursor:
        _insert_conclusions(cursor, fit_id, conclusions)


def _insert_conclusions(
    cursor: duckdb.DuckDBPyConnection, fit_id: int, conclusions: Conclusions
) -> None:
    if conclusions.check is not None:
        insert_check(cursor, fit_id, conclusions.check)
    if conclusions.findings is not None:
        insert_findings(cursor, fit_id, conclusions.findings)
    if conclusions.next_tests is not None:
        insert_next_tests(cursor, fit_id, conclusions.next_tests)
    if conclusions.changes is not None:
        insert_changes(cursor, fit_id, conclusions.changes)


def _insert_fit(cursor: duckdb.DuckDBPyConnection, person: str, measure: str, fit: FitFacts) -> int:
    if not fetch_number(cursor, "SELECT count(*) FROM measure WHERE measure = ?", [measure]):
        raise BadInput(f"There is no measure '{measure}', so its fit cannot be kept.")
    columns = ["measure", "person", *_FACTS]
    marks = ", ".join("?" for _ in columns)
    facts = astuple(fit)[: len(_FACTS)]
    return fetch_number(
        cursor,
        f"INSERT INTO fit ({', '.join(columns)}) VALUES ({marks}) RETURNING fit_id",
        [measure, person, *facts],
    )
