"""Save and read what looks wrong in the data behind a fit."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass

import duckdb
import pandas as pd

from db.file.frames import complete, fetch, insert, registered
from db.file.store import Store

__all__ = [
    "EFFORT_COLUMNS",
    "FINDING_COLUMNS",
    "Findings",
    "decided_findings",
    "effort_limit",
    "finding_efforts",
    "insert_findings",
    "open_counts",
    "open_findings",
]

FINDING_COLUMNS = (
    "place kind athlete other_athlete apart_pct noise_pct noise_count chance factor stays"
).split()
EFFORT_COLUMNS = "place session_id effort value volume expected key".split()

OPEN = (
    "newest AND NOT changed AND decision IS DISTINCT FROM 'accepted' AND "
    "(of_latest_fit OR (decision = 'reopened' AND decided_at > "
    "(SELECT fitted_at FROM latest_fit l WHERE l.measure = finding_detail.measure)))"
)
DECIDED = "newest AND decision <> 'reopened' AND (changed OR decision = 'accepted')"


@dataclass(frozen=True)
class Findings:
    """What looks wrong in the data behind a fit.

    Attributes
    ----------
    effort_limit : float
        An effort further from what is expected than this many times the noise is a finding.
    findings : DataFrame
        A row per finding: `FINDING_COLUMNS`; `place` is 1 for the worst. No athlete means
        everybody.
    efforts : DataFrame
        A row per finding and effort: `EFFORT_COLUMNS`; `key` says whether the effort is one of
        those by which the next fit recognises the finding.
    """

    effort_limit: float
    findings: pd.DataFrame
    efforts: pd.DataFrame


def insert_findings(cursor: duckdb.DuckDBPyConnection, fit_id: int, found: Findings) -> None:
    """Save the findings of a fit, within a unit of work.

    Raises
    ------
    BadInput
        If a frame lacks a column, or a number is missing or not finite.
    """
    may_be_missing = ("athlete", "other_athlete", "factor")
    rows = complete(found.findings, FINDING_COLUMNS, "findings", *may_be_missing)
    efforts = complete(found.efforts, EFFORT_COLUMNS, "efforts of findings")
    limit = pd.DataFrame({"fit_id": [fit_id], "effort_limit": [found.effort_limit]})
    insert(cursor, "data_check", limit)
    if rows.empty:
        return
    ids = fetch(cursor, "SELECT nextval('finding_id_sequence') AS id FROM range(?)", [len(rows)])[
        "id"
    ]
    by_place = dict(zip(rows["place"], ids, strict=True))
    with registered(cursor, "found_effort", efforts):
        stored = fetch(
            cursor,
            "SELECT f.*, e.effort_id FROM found_effort f JOIN effort e "
            "ON e.session_id = f.session_id AND e.effort = f.effort ORDER BY place, effort_id",
        )
    kinds = dict(zip(rows["place"], rows["kind"], strict=True))
    marks = {place: _mark(kinds[place], own[own["key"]]) for place, own in stored.groupby("place")}
    kept = rows.assign(
        fit_id=fit_id,
        finding_id=rows["place"].map(by_place),
        sha256=rows["place"].map(marks),
    )
    insert(cursor, "finding", kept)
    columns = ["finding_id", "effort_id", "session_id", "value", "expected"]
    insert(
        cursor, "finding_effort", stored.assign(finding_id=stored["place"].map(by_place))[columns]
    )


def open_findings(store: Store, measure: str) -> pd.DataFrame:
    """List what is still to be decided, the worst first.

    These are the findings of the newest fit and those reopened since, if their efforts have not
    changed and nobody accepted them as right.

    Returns
    -------
    DataFrame
        `finding_id`, `FINDING_COLUMNS`, `fitted_at`, `decision` and the other columns of
        `finding_detail`.
    """
    return _listed(store, measure, OPEN, "chance, place, finding_id")


def open_counts(store: Store) -> dict[str, int]:
    """Count, by measure, what is still to be decided; measures without any are left out."""
    with store.reading() as cursor:
        rows = cursor.execute(
            f"SELECT measure, count(*) FROM finding_detail WHERE {OPEN} GROUP BY measure"
        ).fetchall()
    return dict(rows)


def decided_findings(store: Store, measure: str) -> pd.DataFrame:
    """List what was decided and not undone, the newest decision first; as `open_findings`."""
    return _listed(store, measure, DECIDED, "decision_id DESC")


def finding_efforts(store: Store, measure: str) -> pd.DataFrame:
    """List the efforts of all findings that are open or decided.

    Returns
    -------
    DataFrame
        `finding_id`, `effort_id`, `session_id`, `athlete`, `started_at`, `kind`, `effort`,
        `volume`, `value` and `expected` when it was found, `value_now`, and `excluded` (the
        reason, or missing).
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT o.finding_id, o.effort_id, o.session_id, e.athlete, e.started_at, e.kind, "
            "e.effort, e.volume, o.value, o.expected, e.value AS value_now, e.excluded "
            "FROM finding_effort o JOIN effort_detail e ON e.effort_id = o.effort_id "
            f"WHERE o.finding_id IN (SELECT finding_id FROM finding_detail WHERE measure = ? "
            f"AND (({OPEN}) OR ({DECIDED}))) ORDER BY o.finding_id, e.started_at, e.session_id, "
            "e.effort",
            [measure],
        )


def effort_limit(store: Store, measure: str) -> float | None:
    """Return how many times the noise an effort must be off to be a finding of the newest fit.

    None without a fit, or if it was saved by a version that did not check the data yet.
    """
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT effort_limit FROM data_check JOIN latest_fit USING (fit_id) WHERE measure = ?",
            [measure],
        ).fetchone()
    return None if row is None else float(row[0])


def _listed(store: Store, measure: str, condition: str, order: str) -> pd.DataFrame:
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT * FROM finding_detail WHERE measure = ? AND {condition} ORDER BY {order}",
            [measure],
        )


def _mark(kind: str, efforts: pd.DataFrame) -> str:
    """Return a hash that stays the same as long as the efforts of a finding do."""
    rows = efforts[["effort_id", "value", "volume"]].sort_values("effort_id").values.tolist()
    return hashlib.sha256(json.dumps([kind, rows]).encode()).hexdigest()
