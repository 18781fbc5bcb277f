from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime

import pandas as pd

from db.file.frames import fetch, fetch_number
from db.file.store import Store

__all__ = [
    "CURVE_COLUMNS",
    "PEAK_COLUMNS",
    "RESPONSE_COLUMNS",
    "FitFacts",
    "KeptFit",
    "athletes_without",
    "concluded",
    "curves",
    "latest_fit",
    "CurveModel",
    "curve_model",
    "learned_json",
    "newer_data",
    "newest_fits",
    "response_history",
    "responses",
    "session_peaks",
    "squad_curve",
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
    data_until, data_basis : date and str, or None
        For a fit of an earlier day: that day, and whether it used the data `stored` by then or
        the sessions `held` up to then, whenever they were stored.
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
    data_until: date | None = None
    data_basis: str | None = None


@dataclass(frozen=True, kw_only=True)
class KeptFit(FitFacts):
    """A saved fit: its facts with its number, its measure, and when it was saved."""

    fit_id: int
    measure: str
    fitted_at: datetime


_KEPT = [field.name for field in fields(KeptFit)]


def concluded(store: Store, measure: str) -> bool:
    """Return whether there is a fit, and what follows from the newest one is saved too."""
    with store.reading() as cursor:
        # The data behind every fit are checked, and this row is saved whatever is found.
        count = "SELECT count(*) FROM latest_fit JOIN data_check USING (fit_id) WHERE measure = ?"
        return bool(fetch_number(cursor, count, [measure]))


def learned_json(store: Store, measure: str) -> str | None:
    """Return what the newest fit of a measure learned about the squad; None if not saved."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT learned_json FROM fit_learned JOIN latest_fit USING (fit_id) WHERE measure = ?",
            [measure],
        ).fetchone()
    return str(row[0]) if row else None


@dataclass(frozen=True)
class CurveModel:
    """How the newest fit of a measure models its curves.

    Attributes
    ----------
    family : str
        Name of the family of curves that it chose.
    misfit_pct, session_misfit_pct : float
        How far athletes, and single sessions on top of that, may be off every such curve:
        standard deviations in %.
    """

    family: str
    misfit_pct: float
    session_misfit_pct: float


def curve_model(store: Store, measure: str) -> CurveModel | None:
    """Return how the newest fit of a measure models its curves; None if not saved."""
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
    """Return the newest fit of a measure, or None."""
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


def session_peaks(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """List estimated values at the peak by session, from the newest fit: of one athlete or all.

    Returns
    -------
    DataFrame
        `athlete`, `session_id`, `started_at`, `peak_value`, in order of time.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT athlete, session_id, started_at, peak_value FROM latest_session_peak "
            "WHERE measure = $1 AND ($2 IS NULL OR athlete = $2) ORDER BY started_at, session_id",
            [measure, athlete],
        )


def newer_data(store: Store, measure: str) -> int:
    """Count efforts stored, changed or taken back since the newest fit; without a fit, all."""
    with store.reading() as cursor:
        return fetch_number(
            cursor,
            "SELECT coalesce((SELECT efforts FROM changed_since_fit WHERE measure = $1), "
            "(SELECT count(*) FROM effort_detail WHERE measure = $1))",
            [measure],
        )


def athletes_without(store: Store, measure: str) -> int:
    """Count the active athletes whom the newest fit of a measure says nothing about."""
    with store.reading() as cursor:
        return fetch_number(
            cursor,
            "SELECT count(*) FROM athlete ANTI JOIN (SELECT athlete FROM latest_response "
            "WHERE measure = ?) USING (athlete) WHERE active",
            [measure],
        )


def newest_fits(store: Store, measure: str, most: int) -> list[int]:
    """List the numbers of a measure's fits, newest first, without fits of earlier days."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT fit_id FROM fit WHERE measure = ? AND data_until IS NULL "
            "ORDER BY fitted_at DESC, fit_id DESC LIMIT ?",
            [measure, most],
        ).fetchall()
    return [int(number) for (number,) in rows]


def response_history(
    store: Store, measure: str, athlete: str, fits: Sequence[int] | None = None
) -> pd.DataFrame:
    """List an athlete's responses in all or some fits of a measure, oldest first.

    Columns: those of `responses`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "FROM response_detail WHERE measure = $1 AND athlete = $2 AND ($3 IS NULL OR "
            "list_contains($3::BIGINT[], fit_id)) ORDER BY fitted_at, fit_id",
            [measure, athlete, None if fits is None else list(fits)],
        )
