"""What the rows of a session say about it, which must agree, and what the store knows already."""

from __future__ import annotations

from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from db.cells import NUMBERS, SESSION_FACTS
from db.frames import fetch, registered
from db.parsed_rows import Faults, Mask, Places

KEY = ["athlete", "measure", "started_at"]
FACTS = (*SESSION_FACTS, "utc_offset_minutes")
NUMBER_FACTS = tuple(fact for fact in FACTS if fact in (*NUMBERS, "utc_offset_minutes"))


def session_places(rows: pd.DataFrame, counted: Mask) -> tuple[Places, pd.DataFrame]:
    """Give each session that counted rows name a number, in order of appearance.

    Parameters
    ----------
    rows : DataFrame
        Parsed rows.
    counted : array of bool, a row each
        Rows that may name a session.

    Returns
    -------
    places : array of int
        The number of each row's session, counted or not; -1 where it has none.
    keys : DataFrame
        The columns of `KEY`, a session each.
    """
    athlete, measure = rows["athlete"].cat.codes, rows["measure"].cat.codes
    start, _ = pd.factorize(rows["started_at"])
    complete = ((athlete >= 0) & (measure >= 0) & (start >= 0)).to_numpy()
    pairs = athlete.to_numpy(np.int64) * len(rows["measure"].cat.categories) + measure.to_numpy()
    codes = pairs * (len(rows) + 1) + start
    naming = np.flatnonzero(counted & complete)
    first = naming[~pd.Series(codes[naming]).duplicated().to_numpy()]
    places = pd.Index(codes[first]).get_indexer(pd.Index(codes))
    keys = rows[KEY].iloc[first].reset_index(drop=True)
    return np.where(complete, places, -1), keys


def sessions_of(cursor: duckdb.DuckDBPyConnection, keys: pd.DataFrame) -> pd.DataFrame:
    """Give some sessions with what is stored of them.

    Parameters
    ----------
    cursor : DuckDBPyConnection
        A unit of work.
    keys : DataFrame
        The columns of `KEY`, a session each.

    Returns
    -------
    DataFrame
        The key, `session_id` and the facts; missing where the store does not have them.
    """
    # A session whose efforts were all taken back is of no kind until it is stored again.
    stored = {fact: f"s.{fact}" for fact in FACTS}
    stored["kind"] = "CASE WHEN s.session_id IN (SELECT session_id FROM effort) THEN s.kind END"
    facts = ", ".join(f"{column} AS {fact}" for fact, column in stored.items())
    plain = keys.astype({"athlete": object, "measure": object})
    with registered(cursor, "named_session", plain.assign(place=range(len(keys)))):
        found = fetch(
            cursor,
            f"SELECT n.athlete, n.measure, n.started_at, s.session_id, {facts} "
            "FROM named_session n LEFT JOIN session s ON s.athlete = n.athlete::VARCHAR "
            "AND s.measure = n.measure::VARCHAR AND s.started_at = n.started_at::TIMESTAMP "
            "ORDER BY n.place",
        )
    others = [fact for fact in FACTS if fact not in NUMBER_FACTS]
    return found.astype(
        dict.fromkeys(NUMBER_FACTS, float) | dict.fromkeys(others, object) | {"session_id": float}
    )


def session_ids(cursor: duckdb.DuckDBPyConnection, keys: pd.DataFrame) -> pd.Series:
    """Give the number of each of some stored sessions."""
    return _looked_up(cursor, keys, ())["session_id"].set_axis(keys.index)


def check_facts(rows: pd.DataFrame, sessions: pd.DataFrame, faults: Faults) -> None:
    """Mark rows that contradict the store, or the first row that states the fact.

    Parameters
    ----------
    rows : DataFrame
        Parsed rows, with the number of their session in `session`.
    sessions : DataFrame
        As from `sessions_of`.
    faults : Faults
        Takes the marks. An empty cell contradicts nothing.
    """
    for fact in FACTS:
        given = rows[fact]
        if given.isna().all():
            continue
        agreed = settled(fact, rows, sessions, faults.clear)
        agreed_here = at_places(agreed, rows["session"].to_numpy())
        faults.mark(
            _differ(given, agreed, agreed_here, rows["session"].to_numpy()),
            "started_at" if fact == "utc_offset_minutes" else fact,
            fact + " is {given} here and {agreed} for this session before; the facts of a session "
            "are the same on all its rows",
            given=given,
            agreed=agreed_here,
        )


def settled(fact: str, rows: pd.DataFrame, sessions: pd.DataFrame, counted: Mask) -> pd.Series:
    """Give a fact for each session: as stored, else from the first counted row that states it."""
    stored = sessions[fact]
    given = rows[fact]
    places = rows["session"].to_numpy()
    stating = np.flatnonzero(given.notna().to_numpy() & counted & (places >= 0))
    first = stating[~pd.Series(places[stating]).duplicated().to_numpy()]
    values = stored.to_numpy(copy=True)
    values[places[first]] = given.iloc[first].to_numpy()
    return stored.where(stored.notna(), pd.Series(values, stored.index, dtype=stored.dtype))


def at_places(values: pd.Series, places: Places) -> npt.NDArray[Any]:
    """Give the value of each row's session, missing where it has none."""
    known = values.to_numpy()
    missing = np.array([np.nan if known.dtype == float else None], dtype=known.dtype)
    return np.append(known, missing)[places]


def _looked_up(
    cursor: duckdb.DuckDBPyConnection, keys: pd.DataFrame, facts: tuple[str, ...]
) -> pd.DataFrame:
    wanted = ", ".join(["s.session_id", *(f"s.{fact}" for fact in facts)])
    plain = keys.astype({"athlete": object, "measure": object})
    with registered(cursor, "named_session", plain.assign(place=range(len(keys)))):
        return fetch(
            cursor,
            f"SELECT n.athlete, n.measure, n.started_at, {wanted} "
            "FROM named_session n LEFT JOIN session s ON s.athlete = n.athlete::VARCHAR "
            "AND s.measure = n.measure::VARCHAR AND s.started_at = n.started_at::TIMESTAMP "
            "ORDER BY n.place",
        )


def _differ(
    given: pd.Series, agreed: pd.Series, agreed_here: npt.NDArray[Any], places: Places
) -> Mask:
    """Say which rows state another value than is agreed for their session."""
    if given.dtype == float:
        numbers = given.to_numpy()
        differ = numbers != agreed_here
        return np.asarray(differ & ~np.isnan(numbers) & ~np.isnan(agreed_here), dtype=bool)
    # Compared by their place among the texts of the file; -2 is a text that it does not have.
    codes = given.cat.categories.get_indexer(pd.Index(agreed, dtype=object))
    codes = np.where(agreed.isna(), -1, np.where(codes < 0, -2, codes))
    here, own = np.append(codes, -1)[places], given.cat.codes.to_numpy()
    return np.asarray((own >= 0) & (here != -1) & (own != here), dtype=bool)
