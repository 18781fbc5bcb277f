"""What the rows of a session say about it, which must agree, and what the store knows already."""

from __future__ import annotations

import duckdb
import pandas as pd

from db.cells import SESSION_FACTS
from db.frames import fetch, registered
from db.parsed_rows import Faults, Mask

KEY = ["athlete", "measure", "started_at"]
FACTS = (*SESSION_FACTS, "utc_offset_minutes")


def sessions_of(cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame) -> pd.DataFrame:
    """Give the sessions that some rows name, in order of appearance, with what is stored.

    Parameters
    ----------
    cursor : DuckDBPyConnection
        A unit of work.
    rows : DataFrame
        Rows with the columns of `KEY`.

    Returns
    -------
    DataFrame
        The key, `session_id` and the facts; missing where the store does not have them.
    """
    keys = rows[KEY].dropna().drop_duplicates().reset_index(drop=True)
    facts = ", ".join(f"s.{fact}" for fact in FACTS)
    with registered(cursor, "named_session", keys.assign(place=range(len(keys)))):
        return fetch(
            cursor,
            f"SELECT n.athlete, n.measure, n.started_at, s.session_id, {facts} "
            "FROM named_session n LEFT JOIN session s ON s.athlete = n.athlete::VARCHAR "
            "AND s.measure = n.measure::VARCHAR AND s.started_at = n.started_at::TIMESTAMP "
            "ORDER BY n.place",
        )


def check_facts(rows: pd.DataFrame, sessions: pd.DataFrame, faults: Faults) -> None:
    """Mark rows that contradict the store, or the first row that states the fact.

    Parameters
    ----------
    rows : DataFrame
        Parsed rows, with their position among the sessions in `session`.
    sessions : DataFrame
        As from `sessions_of`.
    faults : Faults
        Takes the marks. An empty cell contradicts nothing.
    """
    for fact in FACTS:
        if rows[fact].isna().all():
            continue
        given = rows[fact].astype(object)
        agreed = settled(fact, rows, sessions, faults.clear).reindex(rows["session"])
        agreed.index = rows.index
        faults.mark(
            given.notna() & agreed.notna() & (given != agreed),
            "started_at" if fact == "utc_offset_minutes" else fact,
            fact + " is {given} here and {agreed} for this session before; the facts of a session "
            "are the same on all its rows",
            given=given,
            agreed=agreed,
        )


def settled(fact: str, rows: pd.DataFrame, sessions: pd.DataFrame, counted: Mask) -> pd.Series:
    """Give a fact for each session: as stored, else from the first counted row that states it."""
    stored = sessions[fact].astype(object)
    if rows[fact].isna().all():
        return stored
    first = rows[counted].groupby("session")[fact].first().reindex(sessions.index)
    return stored.where(stored.notna(), first.astype(object))
