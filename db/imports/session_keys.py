"""Which session each row of a file belongs to: by athlete, measure, start and offset from UTC.

A start is a wall-clock time. In the night when clocks go back, one hour comes twice, and the
offsets tell two sessions apart. If there is only one session, rows and store need not both state
its offset.
"""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd

from db.file.frames import fetch, registered
from db.imports.parsed_rows import Faults, Mask, Places
from db.tables.cells import NUMBERS, SESSION_FACTS

KEY = ["athlete", "measure", "started_at"]
OFFSET, TURN = "utc_offset_minutes", "turn"
FACTS = (*SESSION_FACTS, OFFSET)
NUMBER_FACTS = tuple(fact for fact in FACTS if fact in (*NUMBERS, OFFSET))


def sessions_of(
    cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame, faults: Faults
) -> tuple[Places, pd.DataFrame]:
    """Assign a number to each session that rows without a fault belong to.

    Parameters
    ----------
    cursor : DuckDBPyConnection
        A unit of work.
    rows : DataFrame
        Parsed rows.
    faults : Faults
        Where rows that could belong to either of two sessions are marked.

    Returns
    -------
    places : array of int
        The number of each row's session, also for rows with a fault; -1 where it has none.
    sessions : DataFrame
        One row per session: the columns of `KEY`, `turn`, `session_id` and the facts, as they
        are stored; `session_id` and facts are missing where the store does not have them.
    """
    places, keys = _wall_times(rows, faults.clear)
    stored = _stored(cursor, keys)
    shared = _shared_times(rows[OFFSET], places, faults.clear, stored)
    if not len(shared):
        return places, stored.drop(columns="place")
    _mark_undecided(rows[OFFSET], places, stored[stored["place"].isin(shared)], faults)
    return _told_apart(rows[OFFSET], places, faults.clear, stored, shared)


def session_ids(cursor: duckdb.DuckDBPyConnection, sessions: pd.DataFrame) -> pd.Series:
    """Return the ids of stored sessions, by their key and turn."""
    named = sessions[[*KEY, TURN]].astype({"athlete": object, "measure": object})
    with registered(cursor, "named_session", named.assign(place=range(len(named)))):
        found = fetch(
            cursor,
            f"SELECT s.session_id FROM named_session n {_JOINED} AND s.turn = n.turn "
            "ORDER BY n.place",
        )
    return found["session_id"].set_axis(sessions.index)


_JOINED = (
    "LEFT JOIN session s ON s.athlete = n.athlete::VARCHAR AND s.measure = n.measure::VARCHAR "
    "AND s.started_at = n.started_at::TIMESTAMP"
)


def _wall_times(rows: pd.DataFrame, counted: Mask) -> tuple[Places, pd.DataFrame]:
    """Assign numbers to the distinct keys of counted rows, in order of appearance."""
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


def _stored(cursor: duckdb.DuckDBPyConnection, keys: pd.DataFrame) -> pd.DataFrame:
    """Return the stored sessions at some keys, and an empty one where none is stored."""
    # A session whose efforts were all taken back has no kind until it has efforts again.
    stored = {fact: f"s.{fact}" for fact in FACTS}
    stored["kind"] = "CASE WHEN s.session_id IN (SELECT session_id FROM effort) THEN s.kind END"
    facts = ", ".join(f"{column} AS {fact}" for fact, column in stored.items())
    plain = keys.astype({"athlete": object, "measure": object})
    with registered(cursor, "named_session", plain.assign(place=range(len(keys)))):
        found = fetch(
            cursor,
            "SELECT n.place, n.athlete, n.measure, n.started_at, coalesce(s.turn, 1) AS turn, "
            f"s.session_id, {facts} FROM named_session n {_JOINED} ORDER BY n.place, s.turn",
        )
    others = [fact for fact in FACTS if fact not in NUMBER_FACTS]
    return found.astype(
        dict.fromkeys(NUMBER_FACTS, float) | dict.fromkeys(others, object) | {"session_id": float}
    )


def _shared_times(
    offsets: pd.Series, places: Places, counted: Mask, stored: pd.DataFrame
) -> Places:
    """Return the places that sessions with different offsets share."""
    naming = counted & (places >= 0)
    if offsets[naming].isna().all() and not stored["place"].duplicated().any():
        return np.array([], dtype=np.intp)
    said = pd.concat(
        [
            pd.DataFrame({"place": places[naming], OFFSET: offsets[naming]}),
            stored[["place", OFFSET]],
        ]
    )
    offset_counts = said.dropna().groupby("place")[OFFSET].nunique()
    several = stored.loc[stored["place"].duplicated(), "place"]
    return np.union1d(offset_counts.index[offset_counts > 1], several).astype(np.intp)


def _mark_undecided(
    offsets: pd.Series, places: Places, there: pd.DataFrame, faults: Faults
) -> None:
    """Mark rows at shared times that could belong to either session."""
    here = np.isin(places, there["place"])
    faults.mark(
        here & offsets.isna(),
        "started_at",
        "sessions with different offsets from UTC start at this time; write the offset after the "
        "start, as in 2026-10-25T02:30+02:00",
    )
    without = there.loc[there["session_id"].notna() & there[OFFSET].isna(), "place"]
    known = pd.MultiIndex.from_frame(there[["place", OFFSET]].dropna())
    own = pd.MultiIndex.from_arrays([places, offsets])
    faults.mark(
        np.isin(places, without) & ~own.isin(known),
        "started_at",
        "a session is stored at this time without an offset from UTC, and the file has two with "
        "different ones; import the rows of the stored one by themselves first",
    )


def _told_apart(
    offsets: pd.Series, places: Places, counted: Mask, stored: pd.DataFrame, shared: Places
) -> tuple[Places, pd.DataFrame]:
    """Assign numbers to sessions by their offset too, where they share a time."""
    here = np.isin(places, shared)
    said = pd.DataFrame({"place": places, OFFSET: offsets})[here & counted & offsets.notna()]
    is_shared = stored["place"].isin(shared)
    alone, there = stored[~is_shared], stored[is_shared & stored["session_id"].notna()]
    apart = said.drop_duplicates().merge(there, "left", on=["place", OFFSET])
    keys = stored.drop_duplicates("place").set_index("place").loc[apart["place"]]
    highest = apart["place"].map(there.groupby("place")[TURN].max()).fillna(0)
    later = apart[TURN].isna().groupby(apart["place"]).cumsum()
    apart = apart.assign(
        **{column: keys[column].to_numpy() for column in KEY},
        turn=apart[TURN].fillna(highest + later),
    ).astype(stored.dtypes.to_dict())
    sessions = pd.concat([alone, apart], ignore_index=True)
    numbers = np.full(len(stored) + 1, -1)  # the last is for rows without a place
    numbers[alone["place"]] = np.arange(len(alone))
    found = pd.MultiIndex.from_frame(apart[["place", OFFSET]]).get_indexer(
        pd.MultiIndex.from_arrays([places, offsets])
    )
    told = np.where(found >= 0, found + len(alone), -1)
    return np.where(here, told, numbers[places]), sessions.drop(columns="place")
