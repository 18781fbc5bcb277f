"""A table of efforts under the model's column names; an efforts file can be read as it is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling.errors import ModelError

__all__ = ["first_midnight", "model_columns", "usable"]

HOURS = 60.0
SECONDS_PER_DAY = 86_400.0
SAME = {"volume_before": "volume", "freshness": "readiness"}
"""Columns of an efforts file, and what the model calls them."""

OFFSET = r"(\d:\d{2}(?:[:.]\d+)*)\s*(?:Z|[+-]\d{2}(?::?\d{2})?)$"
MOST_NAMED = 5


def model_columns(X: pd.DataFrame, midnight: pd.Timestamp | None) -> pd.DataFrame:
    """Give a table of efforts the columns `observations.arrange` takes.

    Parameters
    ----------
    X : DataFrame of shape (n_efforts, ...)
        The model's own columns, or those of an efforts file: `volume_before` for `volume` (where
        it is empty in a fade test: efforts made before), `started_at` for `session`, `day` and
        `hour` (the clock on the wall; an offset is ignored), `freshness` for `readiness`.
        If both are there, the model's own count.
    midnight : Timestamp or None
        What days are counted from; needed where there is `started_at` and no `day`.

    Returns
    -------
    DataFrame
        With columns added, in the order of the rows.

    Raises
    ------
    ModelError
        If it is not a DataFrame, has more than one measure, or a `started_at` that is not a time.
    """
    _check_table(X)
    added: dict[str, Any] = {
        own: X[theirs] for theirs, own in SAME.items() if own not in X and theirs in X
    }
    if "volume" not in X and "effort" in X and "kind" in X:
        added["volume"] = _volume_in_fade_tests(X, added.get("volume"))
    if "started_at" in X:
        when = _started_at(X)
        if "session" not in X:
            added["session"] = X["started_at"]
        if "day" not in X and midnight is not None:
            added["day"] = (when - midnight).dt.total_seconds() / SECONDS_PER_DAY
        if "hour" not in X:
            added["hour"] = when.dt.hour + when.dt.minute / HOURS
    return X.assign(**added)


def first_midnight(X: pd.DataFrame) -> pd.Timestamp | None:
    """Give the midnight before the first session, so that whole days are those of the calendar.

    None without a column `started_at`. Raises as `model_columns` does.
    """
    _check_table(X)
    if "started_at" not in X or len(X) == 0:
        return None
    return _started_at(X).min().normalize()


def usable(X: pd.DataFrame) -> NDArray[np.bool_]:
    """Say which efforts count: those without a reason in the column `excluded`."""
    if "excluded" not in X:
        return np.ones(len(X), dtype=bool)
    return (X["excluded"].isna() | (X["excluded"] == "")).to_numpy(dtype=bool)


def _started_at(X: pd.DataFrame) -> pd.Series:
    """Read when sessions began, on the clock on the wall.

    Raises
    ------
    ModelError
        If that is empty or not a time; the first rows are named.
    """
    told = X["started_at"]
    if isinstance(told.dtype, pd.DatetimeTZDtype):
        told = told.dt.tz_localize(None)
    elif not pd.api.types.is_datetime64_dtype(told):
        clock = told.astype(str).str.replace(OFFSET, r"\1", regex=True)
        told = pd.to_datetime(clock, format="ISO8601", errors="coerce")
    bad = np.flatnonzero(told.isna().to_numpy())
    if len(bad):
        named = ", ".join(f"row {i}: {X['started_at'].iloc[i]}" for i in bad[:MOST_NAMED])
        raise ModelError(
            f"{len(bad)} of {len(X)} rows have a started_at that is no date and time ({named})."
            " Write it as 2026-03-01T09:00."
        )
    return told


def _check_table(X: pd.DataFrame) -> None:
    if not isinstance(X, pd.DataFrame):
        raise ModelError(
            "Efforts come as a pandas DataFrame with a row for each effort and the columns"
            f" athlete, session and volume. Got {_kind(X)}, whose columns have no names."
        )
    measures = sorted({str(each) for each in X["measure"].dropna()}) if "measure" in X else []
    if len(measures) > 1:
        named = ", ".join(measures[:MOST_NAMED])
        raise ModelError(
            f"The table holds {len(measures)} measures ({named}). Take the rows of one at a time."
        )


def _kind(X: object) -> str:
    shape = getattr(X, "shape", None)
    name = type(X).__name__
    return name if shape is None else f"{name} of shape {tuple(shape)}"


def _volume_in_fade_tests(X: pd.DataFrame, told: pd.Series | None) -> NDArray[np.float64]:
    """Count the efforts before each one if a fade test does not tell its volumes."""
    volume = np.full(len(X), np.nan) if told is None else told.to_numpy(dtype=float)
    counted = X["effort"].to_numpy(dtype=float) - 1.0
    return np.where(np.isnan(volume) & (X["kind"] == "fade").to_numpy(), counted, volume)
