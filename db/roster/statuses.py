"""Whether athletes may be tested and advised: the status that staff set, and reported pain."""

from __future__ import annotations

from datetime import date

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.connection import current_revision
from db.file.frames import fetch, fetch_number
from db.file.store import Store

__all__ = [
    "LONGEST_REASON",
    "STATUSES",
    "check_able",
    "painful_sessions",
    "set_status",
    "standings",
    "status_history",
]

STATUSES = ("fit", "modified", "out")
LONGEST_REASON = 80


def set_status(
    store: Store, athlete: str, status: str, since: date, reason: str, person: str
) -> None:
    """Save an athlete's status from a day on; the earlier ones stay in the history.

    A status from the day of pain or later lifts the block from that pain.

    Raises
    ------
    BadInput
        If athlete or status is unknown, the day is still to come, modified has no reason, or
        the reason is too long.
    """
    reason = " ".join(reason.split())
    if status not in STATUSES:
        raise BadInput(f"There is no status '{status}'. Choose among {', '.join(STATUSES)}.")
    if since > date.today():
        raise BadInput(f"{since} is still to come. Say how the athlete is on that day.")
    if status == "modified" and not reason:
        raise BadInput("Modified needs a few words: what to leave out, such as 'no sprints'.")
    if len(reason) > LONGEST_REASON:
        raise BadInput(f"The reason has {len(reason)} letters; take {LONGEST_REASON} at most.")
    with store.writing(person, "set status", athlete) as cursor:
        if not fetch_number(cursor, "SELECT count(*) FROM athlete WHERE athlete = ?", [athlete]):
            raise BadInput(f"There is no athlete '{athlete}'. Check the code.")
        cursor.execute(
            "INSERT INTO athlete_status (athlete, status, since, reason, revision, person) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            [athlete, status, since, reason, current_revision(cursor), person],
        )


def standings(store: Store) -> pd.DataFrame:
    """List the status of every athlete.

    Returns
    -------
    DataFrame
        `athlete`, `name`, `status`, `since` (missing if nobody ever set one), `reason`,
        `pain_day` (of pain that nobody has lifted, else missing) and `blocked`, by name.
    """
    with store.reading() as cursor:
        rows = fetch(cursor, "SELECT * FROM athlete_standing ORDER BY name, athlete")
    return rows.assign(blocked=(rows["status"] == "out") | rows["pain_day"].notna())


def status_history(store: Store, athlete: str) -> pd.DataFrame:
    """List the statuses set for an athlete, newest first: `since, status, reason, person`."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT since, status, reason, person FROM athlete_status WHERE athlete = ? "
            "ORDER BY since DESC, status_id DESC",
            [athlete],
        )


def painful_sessions(
    store: Store, measure: str | None = None, batch_id: int | None = None
) -> pd.DataFrame:
    """List the sessions where pain was reported and efforts were made anyway.

    Parameters
    ----------
    store : Store
    measure : str, optional
        None is every measure.
    batch_id : int, optional
        Only sessions with efforts from this import.

    Returns
    -------
    DataFrame
        `session_id`, `athlete`, `name`, `measure`, `started_at`, `kind`, `efforts` (usable),
        newest first. A session whose efforts are all excluded is left out.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT d.session_id, d.athlete, a.name, d.measure, d.started_at, d.kind, "
            "count(*) AS efforts FROM effort_detail d JOIN athlete a ON a.athlete = d.athlete "
            "WHERE d.pain AND d.excluded IS NULL AND ($1 IS NULL OR d.measure = $1) "
            "AND ($2 IS NULL OR d.batch_id = $2) GROUP BY ALL ORDER BY d.started_at DESC, a.name",
            [measure, batch_id],
        )


def check_able(cursor: duckdb.DuckDBPyConnection, athlete: str) -> None:
    """Refuse an athlete who is out, or has pain that nobody has lifted."""
    row = cursor.execute(
        "SELECT name, status, pain_day FROM athlete_standing WHERE athlete = ?", [athlete]
    ).fetchone()
    if row and (row[1] == "out" or row[2] is not None):
        why = "is out" if row[1] == "out" else f"had pain on {row[2]:%-d %B %Y}"
        raise BadInput(
            f"{row[0]} {why}: no test and no length until staff set another status on the page "
            "'Athlete'. See the medical staff and follow your local rules."
        )
