"""Decisions about findings: nothing is overwritten, and every one can be undone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import duckdb

from db.efforts.effort_changes import change_effort, check_value, stored_effort
from db.efforts.trail import restore_effort
from db.errors import BadInput
from db.file.connection import current_revision
from db.file.frames import fetch, fetch_number
from db.file.store import Store

__all__ = [
    "accept_finding",
    "correct_finding",
    "exchange_finding",
    "exclude_finding",
    "undo_decision",
]


def accept_finding(store: Store, finding_id: int, reason: str, person: str) -> None:
    """Mark the data of a finding as right; it does not come back unless they change.

    Raises
    ------
    BadInput
        If there is no such finding, it was accepted already, or its efforts were changed.
    """
    with store.writing(person, "accept finding", str(finding_id)) as cursor:
        _open_finding(cursor, finding_id)
        _decide(cursor, finding_id, "accepted", reason, person)


def exclude_finding(
    store: Store, finding_id: int, effort_ids: Collection[int], reason: str, person: str
) -> None:
    """Exclude some or all efforts of a finding.

    Raises
    ------
    BadInput
        As for `accept_finding`, or if an effort does not belong to the finding, or the reason is
        empty.
    """
    with store.writing(person, "exclude finding", str(finding_id)) as cursor:
        _check_efforts(_open_finding(cursor, finding_id), effort_ids)
        for effort_id in effort_ids:
            effort = stored_effort(cursor, effort_id)
            change_effort(cursor, effort, reason, person, effort.value, reason.strip())
        _decide(cursor, finding_id, "excluded", reason, person, effort_ids)


def correct_finding(
    store: Store, finding_id: int, values: Mapping[int, float], reason: str, person: str
) -> None:
    """Correct the values of efforts of a finding; the old ones are kept.

    Parameters
    ----------
    store : Store
        The store.
    finding_id : int
        The finding.
    values : mapping of int to float
        The right value for each effort, by its number.
    reason, person : str
        Why, and who.

    Raises
    ------
    BadInput
        As for `exclude_finding`, or if a value is not allowed; then nothing is changed.
    """
    with store.writing(person, "correct finding", str(finding_id)) as cursor:
        _check_efforts(_open_finding(cursor, finding_id), values)
        for effort_id, value in values.items():
            effort = stored_effort(cursor, effort_id)
            check_value(effort.measure, value)
            change_effort(cursor, effort, reason, person, value, effort.excluded)
        _decide(cursor, finding_id, "corrected", reason, person, values)


def exchange_finding(store: Store, finding_id: int, reason: str, person: str) -> None:
    """Store the two sessions of a swap again, each under the other's athlete.

    The old rows stay but are no longer used. If the right athlete already has a session with that
    start, the new one starts at the next free second.

    Raises
    ------
    BadInput
        As for `exclude_finding`, or if the finding is not a swap.
    """
    with store.writing(person, "exchange finding", str(finding_id)) as cursor:
        finding = _open_finding(cursor, finding_id)
        if finding.kind != "swap":
            raise BadInput("Only two sessions of two athletes can be exchanged.")
        stored_anew: list[int] = []
        for session_id, athlete in _exchanged(cursor, finding_id).items():
            stored_anew += _copy_session(cursor, session_id, athlete)
        for effort_id in finding.efforts:
            effort = stored_effort(cursor, effort_id)
            change_effort(cursor, effort, reason, person, effort.value, reason.strip())
        decision = _decide(cursor, finding_id, "exchanged", reason, person, finding.efforts)
        cursor.execute(
            "INSERT INTO decision_change (decision_id, effort_id) SELECT ?, unnest(?::BIGINT[])",
            [decision, stored_anew],
        )


def undo_decision(store: Store, decision_id: int, reason: str, person: str) -> None:
    """Undo what a decision did to the data, and reopen its finding.

    Raises
    ------
    BadInput
        If it is not the last decision about its finding, an effort was changed since, or the
        reason is empty.
    """
    if not reason.strip():
        raise BadInput("Undoing a decision needs a reason. Say in a few words why.")
    with store.writing(person, "undo decision", str(decision_id)) as cursor:
        row = cursor.execute(
            "SELECT decided_finding_id FROM finding_detail "
            "WHERE decision_id = ? AND decision <> 'reopened'",
            [decision_id],
        ).fetchone()
        if row is None:
            raise BadInput("This was undone or decided anew since. Load the page again.")
        done = fetch(
            cursor,
            "SELECT effort_id, change_id FROM decision_change WHERE decision_id = ? "
            "ORDER BY effort_id",
            [decision_id],
        )
        for effort_id in done.loc[done["change_id"].isna(), "effort_id"].tolist():
            effort = stored_effort(cursor, effort_id)
            if effort.excluded is None:
                change_effort(cursor, effort, reason, person, effort.value, reason.strip())
        for change_id in done["change_id"].dropna().astype(int).tolist():
            restore_effort(cursor, change_id, reason, person)
        _decide(cursor, int(row[0]), "reopened", reason, person)


@dataclass(frozen=True)
class _OpenFinding:
    kind: str
    efforts: tuple[int, ...]


def _open_finding(cursor: duckdb.DuckDBPyConnection, finding_id: int) -> _OpenFinding:
    """Return a finding that may be decided; those that this person may not see count as missing."""
    row = cursor.execute(
        "SELECT kind, changed, decision FROM finding_detail WHERE finding_id = ?", [finding_id]
    ).fetchone()
    if row is None:
        raise BadInput(f"There is no finding {finding_id}.")
    kind, changed, decision = row
    if changed:
        raise BadInput(
            "Its efforts were changed since it was found, so there is nothing left to decide. "
            "Nothing was changed; load the page again."
        )
    if decision == "accepted":
        raise BadInput("Somebody accepted this as right already. Undo that first.")
    efforts = cursor.execute(
        "SELECT effort_id FROM finding_effort WHERE finding_id = ? ORDER BY 1", [finding_id]
    ).fetchall()
    return _OpenFinding(kind, tuple(effort for (effort,) in efforts))


def _check_efforts(finding: _OpenFinding, effort_ids: Collection[int]) -> None:
    if not effort_ids or not set(effort_ids) <= set(finding.efforts):
        raise BadInput("Choose efforts of this finding; nothing was changed.")


def _decide(
    cursor: duckdb.DuckDBPyConnection,
    finding_id: int,
    decision: str,
    reason: str,
    person: str,
    effort_ids: Collection[int] = (),
) -> int:
    """Add a decision, with the last change of each effort that it changed; return its number."""
    number = fetch_number(
        cursor,
        "INSERT INTO finding_decision (finding_id, person, decision, reason) "
        "VALUES (?, ?, ?, ?) RETURNING decision_id",
        [finding_id, person, decision, reason.strip()],
    )
    cursor.execute(
        "INSERT INTO decision_change SELECT ?, effort_id, max(change_id) FROM effort_change "
        "WHERE list_contains(?::BIGINT[], effort_id) GROUP BY effort_id",
        [number, list(effort_ids)],
    )
    return number


def _exchanged(cursor: duckdb.DuckDBPyConnection, finding_id: int) -> dict[int, str]:
    """Return the right athlete of each of the two sessions."""
    rows = cursor.execute(
        "SELECT DISTINCT session_id, e.athlete FROM finding_effort o "
        "JOIN effort_detail e USING (effort_id, session_id) WHERE finding_id = ? ORDER BY 1",
        [finding_id],
    ).fetchall()
    (one, of_one), (two, of_two) = rows
    return {one: of_two, two: of_one}


def _copy_session(cursor: duckdb.DuckDBPyConnection, session_id: int, athlete: str) -> list[int]:
    """Copy a session's usable efforts and its facts to a new session of an athlete."""
    copied = fetch_number(
        cursor,
        "INSERT INTO session BY NAME SELECT * EXCLUDE (session_id, turn) REPLACE (? AS athlete, "
        "started_at + to_seconds((SELECT min(n) FROM range(3600) r(n) WHERE NOT EXISTS ("
        "SELECT 1 FROM session o WHERE o.athlete = ? AND o.measure = s.measure AND "
        "o.started_at = s.started_at + to_seconds(n)))) AS started_at) "
        "FROM session s WHERE session_id = ? RETURNING session_id",
        [athlete, athlete, session_id],
    )
    cursor.execute(
        "INSERT INTO session_method BY NAME SELECT * REPLACE (? AS session_id) "
        "FROM session_method WHERE session_id = ?",
        [copied, session_id],
    )
    rows = cursor.execute(
        "INSERT INTO effort (session_id, effort, value, volume, revision) "
        "SELECT ?, effort, value, volume, ? FROM effort WHERE session_id = ? "
        "AND excluded IS NULL RETURNING effort_id",
        [copied, current_revision(cursor), session_id],
    ).fetchall()
    return [effort for (effort,) in rows]
