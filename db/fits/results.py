from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from datetime import datetime

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import complete, fetch, fetch_number, insert
from db.file.store import Store
from db.fits.advice_bases import AdviceRows, insert_advice_base
from db.fits.best_volume_changes import insert_changes
from db.fits.exports import export_frame, write_export
from db.fits.findings import Findings, insert_findings
from db.fits.fit_checks import FitCheck, insert_check
from db.fits.next_tests import insert_next_tests
from db.fits.squad_worth import insert_worth

__all__ = [
    "CURVE_COLUMNS",
    "PEAK_COLUMNS",
    "RESPONSE_COLUMNS",
    "Conclusions",
    "FitFacts",
    "KeptFit",
    "concluded",
    "curves",
    "export_frame",
    "keep_conclusions",
    "keep_fit",
    "latest_fit",
    "CurveModel",
    "curve_model",
    "learned_json",
    "newer_data",
    "response_history",
    "responses",
    "session_peaks",
    "squad_curve",
    "write_export",
]

RESPONSE_COLUMNS = (
    "athlete sessions efforts last_session best_volume best_volume_low best_volume_high "
    "best_volume_q25 best_volume_q75 gain_pct gain_pct_low gain_pct_high hold_volume "
    "hold_volume_low hold_volume_high advised_volume loss_at_standard_pct "
    "loss_at_standard_pct_low loss_at_standard_pct_high chance_short chance_long chance_either "
    "call reach good_from good_to"
).split()
CURVE_COLUMNS = "athlete volume change_pct change_pct_low change_pct_high".split()
PEAK_COLUMNS = ["session_id", "peak_value"]


@dataclass(frozen=True)
class FitFacts:
    """What made a fit, and what it says about the squad.

    Attributes
    ----------
    data_revision : int
        Revision of the store whose efforts were fitted.
    settings_json, version : str
        Settings of the model, version of the package.
    seconds : float
        How long it took.
    athletes, sessions, efforts : int
        What it was fitted to.
    standard_volume, worthwhile_pct : float
        What the calls refer to, in the volume unit and in %.
    best_single_volume : float
        Best single volume for the whole squad.
    worth_of_individual_pct, worth_of_individual_pct_low, worth_of_individual_pct_high : float
        What individual volumes are worth against it, in %: median, 5 % and 95 %.
    spread_log_sd, spread_log_sd_low, spread_log_sd_high : float
        Standard deviation of the logarithm of best volumes: median, 5 % and 95 %.
    chance_athletes_differ : float
        From 0 to 1.
    day_noise_pct, effort_noise_pct : float
        Spread between days and between efforts, in %.
    warnings : str
        Cautions that must be shown, one a line.
    """

    data_revision: int
    settings_json: str
    version: str
    seconds: float
    athletes: int
    sessions: int
    efforts: int
    standard_volume: float
    worthwhile_pct: float
    best_single_volume: float
    worth_of_individual_pct: float
    worth_of_individual_pct_low: float
    worth_of_individual_pct_high: float
    spread_log_sd: float
    spread_log_sd_low: float
    spread_log_sd_high: float
    chance_athletes_differ: float
    day_noise_pct: float
    effort_noise_pct: float
    warnings: str = ""


@dataclass(frozen=True, kw_only=True)
class KeptFit(FitFacts):
    """A fit as kept: its facts with its number, its measure, and when it was kept."""

    fit_id: int
    measure: str
    fitted_at: datetime


@dataclass(frozen=True, kw_only=True)
class Conclusions:
    """What is worked out from a fit once its curves are there; nothing is said of what is None.

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


_FACTS = [field.name for field in fields(FitFacts)]
_KEPT = [field.name for field in fields(KeptFit)]


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
    """Keep a fit with its results, beside those of older fits, and give its number.

    Parameters
    ----------
    store : Store
        Where to.
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
        What follows from the curves, where it is worked out already; see `keep_conclusions`.
    learned : str, optional
        What the fit learned of the squad, as JSON; without it no session can be folded in.
    advice : AdviceRows, optional
        What advice is worked out from; without it there is none.
    worth : DataFrame, optional
        A row per comparison: `db.fits.squad_worth.WORTH_COLUMNS`; without it nothing is said of it.

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
    """Keep what follows from the curves of a fit that was kept without it.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    with store.writing(person, "keep conclusions of fit", measure) as cursor:
        _insert_conclusions(cursor, fit_id, conclusions)


def concluded(store: Store, measure: str) -> bool:
    """Tell whether there is a fit, and what follows from the newest was kept as well."""
    with store.reading() as cursor:
        # Data are looked through for every fit, and whatever is found, this row is kept.
        count = "SELECT count(*) FROM latest_fit JOIN data_check USING (fit_id) WHERE measure = ?"
        return bool(fetch_number(cursor, count, [measure]))


def learned_json(store: Store, measure: str) -> str | None:
    """Give what the newest fit of a measure learned of the squad; None where it was not kept."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT learned_json FROM fit_learned JOIN latest_fit USING (fit_id) WHERE measure = ?",
            [measure],
        ).fetchone()
    return str(row[0]) if row else None


@dataclass(frozen=True)
class CurveModel:
    """What the newest fit of a measure takes its curves to be.

    Attributes
    ----------
    family : str
        Name of the family of curves that it chose.
    misfit_pct, session_misfit_pct : float
        How far athletes, and a session beside these, may be off every such curve: standard
        deviations in %.
    """

    family: str
    misfit_pct: float
    session_misfit_pct: float


def curve_model(store: Store, measure: str) -> CurveModel | None:
    """Say what the newest fit of a measure takes its curves to be, if that was kept."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT learned_json->>'family',"
            " 100 * ifnull((learned_json->>'$.learned.noise.curve')::DOUBLE, 0),"
            " 100 * ifnull((learned_json->>'$.learned.noise.session_curve')::DOUBLE, 0)"
            " FROM fit_learned JOIN latest_fit USING (fit_id) WHERE measure = ?",
            [measure],
        ).fetchone()
    return CurveModel(*row) if row else None


def latest_fit(store: Store, measure: str) -> KeptFit | None:
    """Give the newest fit of a measure, or None."""
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_KEPT)} FROM latest_fit WHERE measure = ?", [measure]
        ).fetchone()
    return None if row is None else KeptFit(**dict(zip(_KEPT, row, strict=True)))


def responses(
    store: Store, measure: str, athlete: str | None = None, fit_id: int | None = None
) -> pd.DataFrame:
    """List the responses of the newest fit, or of a given one, by athlete.

    Returns
    -------
    DataFrame
        `RESPONSE_COLUMNS` with `fit_id`, `measure`, `fitted_at`, and the athlete's `name`,
        `position` and `active`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM response_detail WHERE measure = $1 "
            "AND ($2 IS NULL OR athlete = $2) AND fit_id = coalesce($3, "
            "(SELECT fit_id FROM latest_fit WHERE measure = $1)) ORDER BY name, athlete",
            [measure, athlete, fit_id],
        )


def curves(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """List the athletes' curves of the newest fit: `CURVE_COLUMNS`."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(CURVE_COLUMNS)} FROM latest_curve WHERE measure = $1 "
            "AND ($2 IS NULL OR athlete = $2) ORDER BY athlete, volume",
            [measure, athlete],
        )


def squad_curve(store: Store, measure: str) -> pd.DataFrame:
    """List the squad's curve of the newest fit: `CURVE_COLUMNS` without the athlete."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(CURVE_COLUMNS[1:])} FROM latest_squad_curve WHERE measure = ? "
            "ORDER BY volume",
            [measure],
        )


def session_peaks(store: Store, measure: str, athlete: str) -> pd.DataFrame:
    """List an athlete's estimated values at the peak by session, from the newest fit.

    Returns
    -------
    DataFrame
        `session_id`, `started_at`, `peak_value`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT session_id, started_at, peak_value FROM latest_session_peak "
            "WHERE measure = ? AND athlete = ? ORDER BY started_at",
            [measure, athlete],
        )


def newer_data(store: Store, measure: str) -> int:
    """Count efforts stored, changed or taken back since the newest fit; without one, all."""
    with store.reading() as cursor:
        return fetch_number(
            cursor,
            "SELECT coalesce((SELECT efforts FROM changed_since_fit WHERE measure = $1), "
            "(SELECT count(*) FROM effort_detail WHERE measure = $1))",
            [measure],
        )


def response_history(store: Store, measure: str, athlete: str) -> pd.DataFrame:
    """List an athlete's responses of all fits of a measure, oldest first; as `responses`."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM response_detail WHERE measure = ? AND athlete = ? ORDER BY fit_id",
            [measure, athlete],
        )


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
