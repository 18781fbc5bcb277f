"""Erase one athlete, so that nothing in the store's file tells who it was."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Mapping
from datetime import UTC, datetime

import duckdb

from db.errors import BadInput
from db.file.copies import remove_leftovers
from db.file.opening import quoted
from db.file.relations import with_dependants
from db.file.rewriting import Rewrite, rewrite
from db.file.store import Store
from db.privacy.identity import (
    PLACES_OF_BACKUPS,
    Identity,
    identity_of,
    matches,
    naming,
    text_columns,
    whole_words,
    without_names,
)
from db.privacy.mentions import AS_ONE, SET_ASIDE, clearing, mentions_of

ROW_GONE = "The row named an athlete who was erased"


def erase_athlete(store: Store, code: str, person: str, clear: Collection[str] = ()) -> str:
    """Erase an athlete, so that nothing in the store's file tells who it was.

    The athlete's sessions, efforts, choices, results and account go. Where a row must stay, as in
    the audit, a token replaces the athlete. Fits stay, and say that an athlete was erased. The
    file is rewritten, so that no bytes of what was removed are left in it, and copies that were
    left unfinished are removed. Texts about others that may mention the athlete
    (`db.privacy.mentions`) stay unless `clear` names them.

    Parameters
    ----------
    store : Store
        The store.
    code : str
        The athlete.
    person : str
        Who erases.
    clear : collection of str
        Keys, from `db.privacy.mentions.mentions`, of the texts to clear.

    Returns
    -------
    str
        The token, which means nothing.

    Raises
    ------
    BadInput
        If there is no such athlete, a staff account has this athlete as its own, or a key
        belongs to no text.
    """
    token = f"erased-{secrets.token_hex(4)}"

    def decide(root: duckdb.DuckDBPyConnection) -> Rewrite:
        identity = identity_of(root, code)
        _check_accounts(root, identity)
        dropped = with_dependants(root, {"athlete": f"athlete = {_text(code)}"})
        known = mentions_of(root, identity, dropped)
        cleared = clearing(clear, known, identity, token)
        detail = token + (f", texts cleared: {len(set(clear))}" if clear else "")
        instead = _replacements(root, identity, token, cleared)
        return Rewrite("erase athlete", detail, dropped, instead)

    remove_leftovers(store)
    rewrite(store, person, decide)
    return token


def _check_accounts(root: duckdb.DuckDBPyConnection, identity: Identity) -> None:
    staff = root.execute(
        "SELECT person, role FROM person WHERE athlete = ? AND role <> 'athlete'", [identity.code]
    ).fetchone()
    if staff:
        raise BadInput(
            f"The {staff[1]}'s account '{staff[0]}' is linked to this athlete. Set its role again "
            "without the athlete, then erase. Nothing was erased."
        )


def _replacements(
    root: duckdb.DuckDBPyConnection,
    identity: Identity,
    token: str,
    cleared: Mapping[tuple[str, str], tuple[str, str]],
) -> dict[str, dict[str, str]]:
    replaced: dict[str, dict[str, str]] = {}
    naming_them = _columns_with(root, identity)
    for table, column in text_columns(root):
        expression = f'"{column}"'
        if column in ("person", "detail") or (table, column) in naming_them:
            expression = without_names(column, identity, token)
        if (table, column) in cleared:
            chosen, instead = cleared[table, column]
            expression = f"CASE WHEN {chosen} THEN {instead} ELSE {expression} END"
        if table == "setting":
            expression = f'CASE WHEN {PLACES_OF_BACKUPS} THEN "{column}" ELSE {expression} END'
        replaced.setdefault(table, {})[column] = expression
    gone = [naming(column, identity) for column in replaced[SET_ASIDE]]
    if (SET_ASIDE, AS_ONE) in cleared:
        gone.append(cleared[SET_ASIDE, AS_ONE][0])
    replaced[SET_ASIDE] = blank_rows(root, f"({' OR '.join(gone)})", ROW_GONE, token)
    replaced["import_batch"] |= counts_without(root, f"athlete = {_text(identity.code)}")
    replaced["fit"]["warnings"] = _with_caution(identity, replaced["fit"]["warnings"])
    return replaced


def _columns_with(root: duckdb.DuckDBPyConnection, identity: Identity) -> set[tuple[str, str]]:
    """Return the columns that name the athlete, with their tables: rewriting all takes long."""
    texts = " UNION ALL ".join(
        f"SELECT '{table}' AS table_name, '{column}' AS column_name, \"{column}\" AS text "
        f'FROM "{table}"'
        for table, column in text_columns(root)
    )
    found = root.execute(
        f"WITH texts AS MATERIALIZED ({texts}) SELECT DISTINCT table_name, column_name FROM texts "
        f"WHERE {matches('text', whole_words(identity.words))}"
    ).fetchall()
    return set(found)


def counts_without(root: duckdb.DuckDBPyConnection, sessions: str) -> dict[str, str]:
    """Return SQL expressions of the counts of an import without the efforts of some sessions.

    Parameters
    ----------
    root : DuckDBPyConnection
        The store.
    sessions : str
        The SQL condition of the sessions that go.
    """
    holders = [
        table
        for (table,) in root.execute(
            "SELECT table_name FROM duckdb_columns() JOIN duckdb_tables() "
            "USING (database_name, table_name) WHERE database_name = current_database() "
            "GROUP BY table_name HAVING list_has_all(list(column_name), ['session_id', 'batch_id'])"
        ).fetchall()
    ]
    gone = " + ".join(
        f"(SELECT count(*) FROM {table} e WHERE e.batch_id = import_batch.batch_id AND "
        f"e.session_id IN (SELECT session_id FROM session WHERE {sessions}))"
        for table in holders
    )
    return {"stored": f"stored - ({gone})", "rows_read": f"rows_read - ({gone})"}


def blank_rows(
    root: duckdb.DuckDBPyConnection, condition: str, reason: str, athlete: str = ""
) -> dict[str, str]:
    """Return SQL expressions that blank the texts of some of the rows set aside.

    Parameters
    ----------
    root : DuckDBPyConnection
        The store.
    condition : str
        Which rows, in SQL.
    reason, athlete : str
        What to write in these columns instead.
    """
    may_be_null = {
        name
        for (name,) in root.execute(
            "SELECT column_name FROM duckdb_columns() WHERE table_name = 'set_aside_row' "
            "AND database_name = current_database() AND is_nullable"
        ).fetchall()
    }
    instead = {
        column: "NULL" if column in may_be_null else "''"
        for table, column in text_columns(root)
        if table == "set_aside_row"
    } | {"reason": _text(reason), "athlete": _text(athlete)}
    return {
        column: f'CASE WHEN {condition} THEN {text} ELSE "{column}" END'
        for column, text in instead.items()
    }


def _with_caution(identity: Identity, warnings: str) -> str:
    caution = (
        "An athlete whose efforts are part of these numbers was erased on "
        f"{datetime.now(UTC):%d %B %Y}; the next fit is without them."
    )
    fits = f"SELECT fit_id FROM response WHERE athlete = {_text(identity.code)}"
    return (
        f"CASE WHEN fit_id IN ({fits}) THEN concat_ws(chr(10), nullif({warnings}, ''), "
        f"{_text(caution)}) ELSE {warnings} END"
    )


def _text(value: str) -> str:
    return quoted(value, "'")
