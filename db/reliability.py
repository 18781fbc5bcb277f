from __future__ import annotations

from dataclasses import dataclass

import duckdb
import pandas as pd

from db.frames import complete, fetch, insert
from db.store import Store

__all__ = [
    "BASES",
    "COMPARED_COLUMNS",
    "ESTIMATE_COLUMNS",
    "NEED_COLUMNS",
    "TRIAL_COLUMNS",
    "KeptReliability",
    "ReliabilityRows",
    "insert_reliability",
    "latest_reliability",
    "measure_estimates",
]

BASES = ("mean", "best")
COMPARED_COLUMNS = ["session_id", "trial", "mean_value", "best_value"]
ESTIMATE_COLUMNS = ["basis", "quantity", "estimate", "low", "high"]
TRIAL_COLUMNS = ["basis", "trial", "change_pct", "change_pct_low", "change_pct_high"]
_SMALLEST = ["smallest_sessions", "smallest_sessions_low", "smallest_sessions_high"]
NEED_COLUMNS = [
    *("efforts", "detectable_pct", "detectable_pct_low", "detectable_pct_high"),
    *_SMALLEST,
    *("setting_sessions", "setting_sessions_low", "setting_sessions_high"),
]


@dataclass(frozen=True)
class ReliabilityRows:
    """How well a measure repeats, as it is kept with a fit.

    Attributes
    ----------
    usual_efforts : int
        Efforts that a compared session usually has; 0 where none could be compared.
    compared : DataFrame
        A row per routine session: `COMPARED_COLUMNS`; no trial where its volume was not usual.
    estimates : DataFrame
        A row per basis and quantity: `ESTIMATE_COLUMNS`; empty where too little is known.
    trials : DataFrame
        A row per basis and trial: `TRIAL_COLUMNS`.
    needs : DataFrame
        A row per number of efforts: `NEED_COLUMNS`.
    """

    usual_efforts: int
    compared: pd.DataFrame
    estimates: pd.DataFrame
    trials: pd.DataFrame
    needs: pd.DataFrame


@dataclass(frozen=True, kw_only=True)
class KeptReliability(ReliabilityRows):
    """The same as kept, with what it stands on.

    `compared` has `athlete` and `name` too, `trials` has `athletes`, how many had that trial.

    Attributes
    ----------
    athletes, sessions : int
        Athletes and sessions compared.
    other_sessions : int
        Routine sessions that were not, for their volume.
    """

    athletes: int
    sessions: int
    other_sessions: int


def insert_reliability(
    cursor: duckdb.DuckDBPyConnection, fit_id: int, rows: ReliabilityRows
) -> None:
    """Keep how well the measure of a fit repeats within a unit of work.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    usual = pd.DataFrame({"usual_efforts": [rows.usual_efforts]})
    for table, frame in (
        ("reliability", usual),
        (
            "reliability_session",
            complete(rows.compared, COMPARED_COLUMNS, "compared sessions", "trial"),
        ),
        ("reliability_estimate", complete(rows.estimates, ESTIMATE_COLUMNS, "estimates")),
        ("reliability_trial", complete(rows.trials, TRIAL_COLUMNS, "trials")),
        ("reliability_need", complete(rows.needs, NEED_COLUMNS, "needs", *_SMALLEST)),
    ):
        insert(cursor, table, frame.assign(fit_id=fit_id))


def latest_reliability(store: Store, measure: str) -> KeptReliability | None:
    """Give how well a measure repeats by its newest fit, or None if that was kept without it."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT usual_efforts, athletes, sessions, other_sessions FROM latest_reliability "
            "WHERE measure = ?",
            [measure],
        ).fetchone()
        if row is None:
            return None

        def rows(columns: list[str], view: str, order: str) -> pd.DataFrame:
            return fetch(
                cursor,
                f"SELECT {', '.join(columns)} FROM {view} WHERE measure = ? ORDER BY {order}",
                [measure],
            )

        usual_efforts, athletes, sessions, other_sessions = row
        return KeptReliability(
            usual_efforts=usual_efforts,
            compared=rows(
                ["athlete", "name", *COMPARED_COLUMNS],
                "latest_reliability_session",
                "athlete, trial, session_id",
            ),
            estimates=rows(ESTIMATE_COLUMNS, "latest_reliability_estimate", "basis, quantity"),
            trials=rows([*TRIAL_COLUMNS, "athletes"], "latest_reliability_trial", "basis, trial"),
            needs=rows(NEED_COLUMNS, "latest_reliability_need", "efforts"),
            athletes=athletes,
            sessions=sessions,
            other_sessions=other_sessions,
        )


def measure_estimates(store: Store, basis: str) -> pd.DataFrame:
    """List what the newest fits say of every measure, on one basis.

    Returns
    -------
    DataFrame
        `measure`, `quantity`, `estimate`, `low`, `high`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT measure, quantity, estimate, low, high FROM latest_reliability_estimate "
            "WHERE basis = ? ORDER BY measure, quantity",
            [basis],
        )
