from __future__ import annotations

from dataclasses import dataclass, fields

import duckdb
import pandas as pd

from db.file.frames import complete, fetch, insert
from db.file.store import Store

__all__ = ["BAND_COLUMNS", "PLACE_COLUMNS", "FitCheck", "insert_check", "latest_check"]

BAND_COLUMNS = (
    "band efforts lowest_volume highest_volume mean_volume observed_pct expected_pct low_pct "
    "high_pct"
).split()
PLACE_COLUMNS = "tenth sessions fewest most".split()


@dataclass(frozen=True)
class FitCheck:
    """How large the noise of a fit is, and whether its model describes the data.

    Attributes
    ----------
    effort_noise_pct_low, effort_noise_pct_high : float
        5 % and 95 % quantile of the fit's `effort_noise_pct`.
    day_noise_pct_low, day_noise_pct_high : float
        The same of its `day_noise_pct`.
    sessions, sessions_inside : int
        Sessions predicted from the athlete's other sessions, and those in their 90 % interval.
    efforts, efforts_inside : int
        The same for single efforts.
    bands : DataFrame
        A row per band of volume: `BAND_COLUMNS`.
    places : DataFrame
        A row per tenth of the predictions: `PLACE_COLUMNS`.
    """

    effort_noise_pct_low: float
    effort_noise_pct_high: float
    day_noise_pct_low: float
    day_noise_pct_high: float
    sessions: int
    sessions_inside: int
    efforts: int
    efforts_inside: int
    bands: pd.DataFrame
    places: pd.DataFrame


_FACTS = [field.name for field in fields(FitCheck) if field.name not in ("bands", "places")]


def insert_check(cursor: duckdb.DuckDBPyConnection, fit_id: int, check: FitCheck) -> None:
    """Save the check of a fit, within a unit of work.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    facts = pd.DataFrame([{name: getattr(check, name) for name in _FACTS}])
    for table, frame in (
        ("fit_check", complete(facts, _FACTS, "checks")),
        ("volume_band", complete(check.bands, BAND_COLUMNS, "bands of volume")),
        ("session_place", complete(check.places, PLACE_COLUMNS, "places of sessions")),
    ):
        insert(cursor, table, frame.assign(fit_id=fit_id))


def latest_check(store: Store, measure: str) -> FitCheck | None:
    """Return the check of a measure's newest fit, or None if it was saved without one."""
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_FACTS)} FROM latest_fit_check WHERE measure = ?", [measure]
        ).fetchone()
        if row is None:
            return None
        return FitCheck(
            **dict(zip(_FACTS, row, strict=True)),
            bands=_rows(cursor, "latest_volume_band", BAND_COLUMNS, measure),
            places=_rows(cursor, "latest_session_place", PLACE_COLUMNS, measure),
        )


def _rows(
    cursor: duckdb.DuckDBPyConnection, view: str, columns: list[str], measure: str
) -> pd.DataFrame:
    query = f"SELECT {', '.join(columns)} FROM {view} WHERE measure = ? ORDER BY {columns[0]}"
    return fetch(cursor, query, [measure])
