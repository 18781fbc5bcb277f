"""Change a running test: accept an effort, take one back, or end it; each is stored at once."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from db.efforts.effort_changes import check_value
from db.efforts.live_tests import open_test_of
from db.errors import BadInput
from db.file.connection import current_revision
from db.file.frames import fetch_number
from db.file.store import Store
from db.roster.measures import measures_of
from db.tables.cells import LIMITS

BY_THE_RULE = "the stop rule said so"
"""Why a test ended, if the stop rule ended it. Taking a value back undoes only such an end."""


def add_effort(
    store: Store, session_id: int, effort: int, value: float, volume: float, person: str
) -> bool:
    """Save the next effort of an open test, and return whether it is new.

    The same effort with the same value may come twice, from two devices or over a bad
    network, but is stored once.

    Raises
    ------
    BadInput
        If the test is not open, the value is not allowed, or another effort of this number
        was stored meanwhile.
    """
    with store.writing(person, "add effort", f"{session_id} {effort}") as cursor:
        measure = _open_test(cursor, session_id).measure
        last = _last_effort(cursor, session_id)
        if effort <= last:
            return _known(cursor, session_id, effort, value)
        if effort > last + 1:
            raise BadInput(
                f"The next effort is number {last + 1}, not {effort}. Nothing was stored. "
                "Type it again."
            )
        check_value(next(one for one in measures_of(cursor) if one.code == measure), value)
        low, high = LIMITS["volume_before"]
        if not low <= volume <= high:
            raise BadInput(f"The volume before it is {volume:g}; it must be {low:g} to {high:g}.")
        cursor.execute(
            "INSERT INTO effort (session_id, effort, value, volume, revision) "
            "VALUES (?, ?, ?, ?, ?)",
            [session_id, effort, value, volume, current_revision(cursor)],
        )
    return True


def undo_effort(store: Store, session_id: int, effort_id: int, person: str) -> None:
    """Take back the last effort of a test, as if never made; it moves to a table of its own.

    If the stop rule had ended the test, the test is open again.

    Parameters
    ----------
    store, session_id, person
        Where, whose test, and who takes it back.
    effort_id : int
        The stored effort, not its place in the test: another device may have entered another
        effort in that place since.

    Raises
    ------
    BadInput
        If it was taken back already, is no longer the last, was corrected or marked, or the
        test ended for another reason, or the athlete has begun another test.
    """
    with store.writing(person, "undo effort", f"{session_id} {effort_id}") as cursor:
        test = _test(cursor, session_id)
        named = _named_effort(cursor, test, effort_id)
        if fetch_number(
            cursor, "SELECT count(*) FROM effort_change WHERE effort_id = ?", [effort_id]
        ):
            raise BadInput(
                f"{named} was corrected or marked since, so it cannot be taken back. Correct it "
                "again, or mark it as spoiled."
            )
        if not test.is_open:
            _open_again(cursor, test, named)
        this = "session_id = ? AND effort_id = ?"
        cursor.execute(
            "INSERT INTO undone_effort (effort_id, session_id, effort, value, volume, revision, "
            "person) SELECT effort_id, session_id, effort, value, volume, revision, ? "
            f"FROM effort WHERE {this}",
            [person, session_id, effort_id],
        )
        cursor.execute(f"DELETE FROM effort WHERE {this}", [session_id, effort_id])


def end_test(store: Store, session_id: int, because: str, person: str) -> None:
    """End an open test; what was stored stays.

    Raises
    ------
    BadInput
        If the test is not open.
    """
    with store.writing(person, "end test", str(session_id)) as cursor:
        _open_test(cursor, session_id)
        cursor.execute(
            "UPDATE test_run SET ended_at = now(), ended_by = ?, ended_because = ? "
            "WHERE session_id = ?",
            [person, because.strip() or None, session_id],
        )
        _keep_rest_between(cursor, session_id)


def _keep_rest_between(cursor: duckdb.DuckDBPyConnection, session_id: int) -> None:
    """Save the median time from one effort to the next, by when each was first entered.

    An effort entered in place of one taken back counts from its own time.
    """
    cursor.execute(
        "UPDATE session SET effort_rest_seconds = between_efforts.seconds FROM ("
        "SELECT round(median(seconds), 1) AS seconds FROM ("
        "SELECT epoch(entered_at) - lag(epoch(entered_at)) OVER (ORDER BY effort) AS seconds FROM ("
        "SELECT e.effort, min(a.happened_at) AS entered_at FROM effort e "
        "JOIN audit a ON a.action = 'add effort' AND a.detail = e.session_id || ' ' || e.effort "
        "WHERE e.session_id = $1 AND NOT EXISTS (SELECT 1 FROM undone_effort u WHERE "
        "u.session_id = $1 AND u.effort = e.effort AND u.undone_at >= a.happened_at) "
        "GROUP BY e.effort))) between_efforts "
        "WHERE session.session_id = $1 AND between_efforts.seconds <= $2",
        [session_id, LIMITS["effort_rest_seconds"][1]],
    )


@dataclass(frozen=True)
class Entry:
    """The last value entered in a live test.

    Attributes
    ----------
    session_id, effort_id : int
        Whose test, and the effort as it was stored.
    value : float
        In the unit of the measure, as first accepted or as corrected since.
    taken_back : bool
        Whether it was taken back.
    """

    session_id: int
    effort_id: int
    value: float
    taken_back: bool


def last_entry(store: Store, live_test_id: int) -> Entry | None:
    """Return the last value entered in a live test, taken back or not; None before the first."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT session_id, effort_id, value, taken_back FROM ("
            "SELECT session_id, effort_id, value, false AS taken_back FROM effort UNION ALL "
            "SELECT session_id, effort_id, value, true FROM undone_effort) "
            "WHERE session_id IN (SELECT session_id FROM test_detail WHERE round_id = ?) "
            "ORDER BY effort_id DESC LIMIT 1",
            [live_test_id],
        ).fetchone()
    return Entry(*row) if row else None


@dataclass(frozen=True)
class _Test:
    session_id: int
    athlete: str
    name: str
    measure: str
    ended_because: str | None
    is_open: bool


def _test(cursor: duckdb.DuckDBPyConnection, session_id: int) -> _Test:
    """Return a test in sight, open or ended."""
    row = cursor.execute(
        "SELECT session_id, athlete, name, measure, ended_because, ended_at IS NULL "
        "FROM test_detail WHERE session_id = ?",
        [session_id],
    ).fetchone()
    if row is None:
        raise BadInput(f"There is no test {session_id}.")
    return _Test(*row)


def _open_test(cursor: duckdb.DuckDBPyConnection, session_id: int) -> _Test:
    """Return an open test in sight."""
    test = _test(cursor, session_id)
    if not test.is_open:
        raise BadInput(
            "This test was ended, perhaps on another device. Nothing was stored. Begin a new one."
        )
    return test


def _named_effort(cursor: duckdb.DuckDBPyConnection, test: _Test, effort_id: int) -> str:
    """Name the value to take back and its athlete; refuse any but the last of the test."""
    this = [test.session_id, effort_id]
    row = cursor.execute(
        "SELECT effort, value FROM effort WHERE session_id = ? AND effort_id = ?", this
    ).fetchone()
    if row is None:
        gone = cursor.execute(
            "SELECT value, person FROM undone_effort WHERE session_id = ? AND effort_id = ?", this
        ).fetchone()
        raise BadInput(
            f"{gone[0]:g} of {test.name} was taken back already, by {gone[1]}."
            if gone
            else f"{test.name} has no such effort in this test. Nothing was taken back."
        )
    if row[0] != _last_effort(cursor, test.session_id):
        raise BadInput(
            f"{row[1]:g} is not the last value of {test.name} any more, so it was left as it is. "
            "Correct it, or mark it as spoiled."
        )
    return f"{row[1]:g} of {test.name}"


def _open_again(cursor: duckdb.DuckDBPyConnection, test: _Test, named: str) -> None:
    """Reopen a test that the stop rule ended."""
    if test.ended_because != BY_THE_RULE:
        raise BadInput(
            f"The test of {test.name} was ended, so {named} was left as it is. Correct it, or mark "
            "it as spoiled."
        )
    if open_test_of(cursor, test.athlete, test.measure):
        raise BadInput(
            f"{test.name} has begun another test since, so {named} was left as it is. Correct it, "
            "or mark it as spoiled."
        )
    cursor.execute(
        "UPDATE test_run SET ended_at = NULL, ended_by = NULL, ended_because = NULL "
        "WHERE session_id = ?",
        [test.session_id],
    )


def _last_effort(cursor: duckdb.DuckDBPyConnection, session_id: int) -> int:
    return fetch_number(
        cursor, "SELECT coalesce(max(effort), 0) FROM effort WHERE session_id = ?", [session_id]
    )


def _known(cursor: duckdb.DuckDBPyConnection, session_id: int, effort: int, value: float) -> bool:
    """Ignore an effort that is stored already; refuse another value under its number."""
    (stored,) = cursor.execute(
        "SELECT coalesce(first_value, value) FROM effort LEFT JOIN first_effort_value "
        "USING (effort_id) WHERE session_id = ? AND effort = ?",
        [session_id, effort],
    ).fetchone() or (None,)
    if stored != value:
        raise BadInput(
            f"Effort {effort} was entered meanwhile on another device: {stored:g}. Yours, "
            f"{value:g}, was not stored. If it is another effort, accept it again as the next one."
        )
    return False
