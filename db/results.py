from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from datetime import datetime

import duckdb
import pandas as pd

from db.advice_bases import AdviceRows, insert_advice_base
from db.best_volume_changes import insert_changes
from db.errors import BadInput
from db.exports import export_frame, write_export
from db.findings import Findings, insert_findings
from db.fit_checks import FitCheck, insert_check
from db.frames import complete, fetch, fetch_number, insert
from db.next_tests import insert_next_tests
from db.reliability import ReliabilityRows, insert_reliability
from db.squad_worth import insert_worth
from db.store import Store

__all__ = [
    "CURVE_COLUMNS",
    "PEAK_COLUMNS",
    "RESPONSE_COLUMNS",
    "FitFacts",
    "KeptFit",
    "curves",
    "export_frame",
    "keep_fit",
    "latest_fit",
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
    "call reach"
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
    check: FitCheck | None = None,
    reliability: ReliabilityRows | None = None,
    learned: str | None = None,
    findings: Findings | None = None,
    advice: AdviceRows | None = None,
    next_tests: pd.DataFrame | None = None,
    changes: pd.DataFrame | None = None,
    worth: pd.DataFrame | None = None,
) -> int:
    """Keep a fit with all its results, beside those of older fits, and give its number.

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
    check : FitCheck, optional
        Whether the model describes the data; without it nothing is said of that.
    reliability : ReliabilityRows, optional
        How well the measure repeats; without it nothing is said of that.
    learned : str, optional
        What the fit learned of the squad, as JSON; without it no session can be folded in.
    findings : Findings, optional
        What looks wrong in the data; without it nothing was looked for.
    advice : AdviceRows, optional
        What advice is worked out from; without it there is none.
    next_tests : DataFrame, optional
        A row per athlete and kind: `db.next_tests.NEXT_TEST_COLUMNS`; without it none is proposed.
    changes : DataFrame, optional
        A row per athlete: `db.best_volume_changes.CHANGE_COLUMNS`; without it none was looked for.
    worth : DataFrame, optional
        A row per comparison: `db.squad_worth.WORTH_COLUMNS`; without it nothing is said of it.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    responses = complete(responses, RESPONSE_COLUMNS, "responses", "last_session")
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
        if check is not None:
            insert_check(cursor, fit_id, check)
        if reliability is not None:
            insert_reliability(cursor, fit_id, reliability)
        if learned is not None:
            cursor.execute(
                "INSERT INTO fit_learned (fit_id, learned_json) VALUES (?, ?)", [fit_id, learned]
            )
        if findings is not None:
            insert_findings(cursor, fit_id, findings)
        if advice is not None:
            insert_advice_base(cursor, fit_id, measure, advice)
        if next_tests is not None:
            insert_next_tests(cursor, fit_id, next_tests)
        if changes is not None:
            insert_changes(cursor, fit_id, changes)
        if worth is not None:
            insert_worth(cursor, fit_id, worth)
    return fit_id


def learned_json(store: Store, measure: str) -> str | None:
    """Give what the newest fit of a measure learned of the squad; None where it was not kept."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT learned_json FROM fit_learned JOIN latest_fit USING (fit_id) WHERE measure = ?",
            [measure],
        ).fetchone()
    return str(row[0]) if row else None


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
