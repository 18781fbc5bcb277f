"""Take back a whole import, as long as nothing newer depends on what it stored.

The efforts move to a table of efforts that are no longer used. Sessions left without efforts stay,
because results of older fits refer to them, but they lose their facts. So the same file can be
imported again.
"""

from __future__ import annotations

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.connection import current_revision
from db.file.frames import fetch, fetch_number, registered
from db.file.store import Store
from db.imports.session_keys import FACTS

FILLABLE = tuple(fact for fact in FACTS if fact != "kind")
ACTION = "take back import"

# What can depend on an import: a sentence with places for the count and the names, and a query that
# lists the names. $batch is the import, and $revision that of the write that stored it.
DEPENDENTS = (
    (
        "Efforts of it that were corrected, excluded or taken in again since, {count}: {names}",
        "SELECT DISTINCT a.athlete || ' ' || strftime(a.started_at, '%Y-%m-%d %H:%M') || "
        "' effort ' || a.effort AS name FROM effort_detail a "
        "JOIN effort_change c ON c.effort_id = a.effort_id WHERE a.batch_id = $batch",
    ),
    (
        "Later imports that name its sessions again, {count}: {names}. Take those back first",
        "SELECT 'import ' || b.batch_id || ' (' || b.file || ')' AS name FROM import_touch t "
        "JOIN import_batch b ON b.batch_id = t.batch_id WHERE t.earlier_batch_id = $batch "
        "AND b.batch_id NOT IN (SELECT batch_id FROM taken_back_import)",
    ),
    (
        "Later imports that found rows which the store had, made by a version of the program that "
        "did not keep whose, {count}: {names}",
        "SELECT 'import ' || batch_id || ' (' || file || ')' AS name FROM import_batch "
        "WHERE batch_id > $batch AND known > 0 AND imported_at < (SELECT min(applied_at) FROM "
        "schema_version WHERE name = '0004_taken_back_imports.sql') "
        "AND batch_id NOT IN (SELECT batch_id FROM taken_back_import)",
    ),
    (
        "Sessions of it that were added to or changed by hand since, {count}: {names}",
        "SELECT DISTINCT d.athlete || ' ' || strftime(d.started_at, '%Y-%m-%d %H:%M') AS name "
        "FROM effort_detail d JOIN audit w ON w.revision = d.revision "
        "WHERE d.session_id IN (SELECT session_id FROM effort WHERE batch_id = $batch) "
        "AND d.revision > $revision AND w.action NOT IN ('import efforts', '" + ACTION + "') "
        "AND d.effort_id NOT IN (SELECT effort_id FROM effort_change)",
    ),
    (
        "Plans with an outcome on the days of its sessions, {count}: {names}",
        "SELECT DISTINCT p.athlete || ' on ' || p.day AS name FROM plan p "
        "JOIN effort_detail d ON d.athlete = p.athlete AND d.measure = p.measure "
        "AND d.started_at::DATE = p.day WHERE d.batch_id = $batch AND p.outcome IS NOT NULL",
    ),
)
NAMED = 5


def take_back_import(store: Store, batch_id: int, person: str, reason: str) -> int:
    """Take back a whole import, and return how many efforts are no longer used.

    The import stays listed with its counts, and with who took it back, when and why. The
    efforts stay readable as they were. Facts that the file had filled in for sessions stored
    before are taken out again. Athletes that it added stay.

    Raises
    ------
    BadInput
        If there is no such import, it was taken back already, the reason is empty, or
        something newer depends on it; the message says what.
    """
    if not reason.strip():
        raise BadInput("Taking an import back needs a reason. Say in a few words why.")
    with store.writing(person, ACTION, str(batch_id)) as cursor:
        _check(cursor, batch_id)
        depending = _dependents(cursor, batch_id)
        if depending:
            raise BadInput(
                f"Import {batch_id} cannot be taken back, as newer work depends on it. "
                f"{'; '.join(depending)}. Nothing was changed."
            )
        revision = current_revision(cursor)
        cursor.execute(
            "INSERT INTO taken_back_import (batch_id, person, reason, revision) "
            "VALUES (?, ?, ?, ?)",
            [batch_id, person, reason.strip(), revision],
        )
        cursor.execute(
            "INSERT INTO taken_back_effort SELECT effort_id, batch_id, session_id, effort, value, "
            "volume, excluded, revision FROM effort WHERE batch_id = ?",
            [batch_id],
        )
        cursor.execute("DELETE FROM effort WHERE batch_id = ?", [batch_id])
        _take_out_facts(cursor, batch_id, revision)
        _empty_sessions(cursor, batch_id)
        return fetch_number(
            cursor, "SELECT count(*) FROM taken_back_effort WHERE batch_id = ?", [batch_id]
        )


def imports_with_undo(store: Store) -> pd.DataFrame:
    """List the imports, newest first, with who took one back, when and why.

    Returns
    -------
    DataFrame
        `batch_id`, `file`, `imported_at`, `person`, `rows_read`, `stored`, `known`,
        `set_aside`, `taken_back_at`, `taken_back_by`, `taken_back_because`.
    """
    with store.reading() as cursor:
        return fetch(cursor, "SELECT * FROM import_overview ORDER BY batch_id DESC")


def depends_on_import(store: Store, batch_id: int) -> list[str]:
    """List the newer work that keeps an import from being taken back; empty if there is none."""
    with store.reading() as cursor:
        return _dependents(cursor, batch_id)


def remember_touched(
    cursor: duckdb.DuckDBPyConnection, session_ids: pd.Series, batch_id: int
) -> None:
    """Note which earlier imports have efforts in sessions that an import names again."""
    named = pd.DataFrame({"session_id": session_ids.dropna().astype("int64")})
    if named.empty:
        return
    with registered(cursor, "touched_session", named):
        cursor.execute(
            "INSERT INTO import_touch SELECT $batch, e.batch_id, count(*) FROM touched_session n "
            "JOIN effort e USING (session_id) WHERE e.batch_id < $batch GROUP BY e.batch_id",
            {"batch": batch_id},
        )


def remember_filled(cursor: duckdb.DuckDBPyConnection, filled: pd.DataFrame, batch_id: int) -> None:
    """Note which facts an import is about to fill in for sessions stored before."""
    if filled.empty:
        return
    with registered(cursor, "filling_session", filled):
        for fact in FILLABLE:
            cursor.execute(
                "INSERT INTO filled_fact SELECT ?, s.session_id, ? FROM filling_session f "
                f"JOIN session s ON s.session_id = f.session_id WHERE s.{fact} IS NULL "
                f"AND f.{fact} IS NOT NULL",
                [batch_id, fact],
            )


def _check(cursor: duckdb.DuckDBPyConnection, batch_id: int) -> None:
    row = cursor.execute(
        "SELECT taken_back_at, taken_back_by FROM import_overview WHERE batch_id = ?", [batch_id]
    ).fetchone()
    if row is None:
        raise BadInput(f"There is no import {batch_id}.")
    if row[0] is not None:
        raise BadInput(
            f"Import {batch_id} was taken back already, on {row[0]:%Y-%m-%d} by {row[1]}."
        )


def _dependents(cursor: duckdb.DuckDBPyConnection, batch_id: int) -> list[str]:
    named = {"batch": batch_id, "revision": _stored_at(cursor, batch_id)}
    said = []
    for sentence, query in DEPENDENTS:
        given = {key: value for key, value in named.items() if f"${key}" in query}
        names = [str(name) for (name,) in cursor.execute(query, given).fetchall()]
        if names:
            shown = ", ".join(sorted(names)[:NAMED]) + (" and more" if len(names) > NAMED else "")
            said.append(sentence.format(count=len(names), names=shown))
    return said


def _stored_at(cursor: duckdb.DuckDBPyConnection, batch_id: int) -> int:
    """Return the revision of the write that stored an import; both have the same time."""
    return fetch_number(
        cursor,
        "SELECT coalesce(max(a.revision), 0) FROM audit a JOIN import_batch b "
        "ON a.happened_at = b.imported_at WHERE b.batch_id = ? AND a.action = 'import efforts'",
        [batch_id],
    )


def _take_out_facts(cursor: duckdb.DuckDBPyConnection, batch_id: int, revision: int) -> None:
    facts = fetch(cursor, "SELECT DISTINCT fact FROM filled_fact WHERE filled_by = ?", [batch_id])
    for fact in set(FILLABLE) & set(facts["fact"]):
        cursor.execute(
            f"UPDATE session SET {fact} = NULL WHERE session_id IN "
            "(SELECT session_id FROM filled_fact WHERE filled_by = ? AND fact = ?)",
            [batch_id, fact],
        )
    cursor.execute(
        "UPDATE effort SET revision = ? WHERE session_id IN "
        "(SELECT session_id FROM filled_fact WHERE filled_by = ?)",
        [revision, batch_id],
    )


def _empty_sessions(cursor: duckdb.DuckDBPyConnection, batch_id: int) -> None:
    facts = ", ".join(f"{fact} = NULL" for fact in FILLABLE)
    cursor.execute(
        f"UPDATE session SET kind = 'routine', {facts} WHERE session_id IN "
        "(SELECT session_id FROM taken_back_effort WHERE batch_id = ?) "
        "AND session_id NOT IN (SELECT session_id FROM effort)",
        [batch_id],
    )
