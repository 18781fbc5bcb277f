"""Facts of a session: its rows must agree with each other and with the store."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.imports.parsed_rows import Faults, Mask, Places
from db.imports.session_keys import FACTS


def check_facts(rows: pd.DataFrame, sessions: pd.DataFrame, faults: Faults) -> None:
    """Mark rows that contradict the store, or an earlier row that contradicts nothing itself.

    A row that is set aside for one fact settles no other. Otherwise the next import of the same
    file would find other facts in the store, and sort its rows in another way.

    Parameters
    ----------
    rows : DataFrame
        Parsed rows, with the number of their session in `session`.
    sessions : DataFrame
        The sessions, from `sessions_of`.
    faults : Faults
        Where rows are marked. An empty cell contradicts nothing.
    """
    facts = [fact for fact in FACTS if rows[fact].notna().any()]
    places = rows["session"].to_numpy()
    while True:
        settling = faults.clear.copy()
        agreed = {fact: settled(fact, rows, sessions, settling) for fact in facts}
        here = {fact: at_places(agreed[fact], places) for fact in facts}
        differ = {fact: _differ(rows[fact], agreed[fact], here[fact], places) for fact in facts}
        found = np.logical_or.reduce([*differ.values(), ~settling]) & settling
        if not found.any():
            return
        # The rows before a session's first contradiction agree, and what they say stands. So every
        # turn settles at least one fact of the session for good.
        first, more = np.full(len(sessions) + 1, len(rows)), np.flatnonzero(found)[::-1]
        first[places[more]] = more
        for fact in facts:
            stated_at = _stated_at(fact, rows, sessions, settling)
            faults.mark(
                differ[fact] & (stated_at[places] < first[places]),
                fact,
                fact + " is {given} here and {agreed} for this session before; the facts of a "
                "session are the same on all its rows",
                given=rows[fact],
                agreed=here[fact],
            )


def _stated_at(
    fact: str, rows: pd.DataFrame, sessions: pd.DataFrame, counted: Mask
) -> npt.NDArray[np.int64]:
    """Return the row that settles a fact for each session; -1 is the store, past the end none."""
    stating = _stating(rows[fact], rows["session"].to_numpy(), counted)
    at = np.full(len(sessions) + 1, len(rows))
    at[rows["session"].to_numpy()[stating]] = stating
    at[np.flatnonzero(sessions[fact].notna())] = -1
    return at


def settled(fact: str, rows: pd.DataFrame, sessions: pd.DataFrame, counted: Mask) -> pd.Series:
    """Return a fact for each session: as stored, or from the first counted row that states it."""
    stored = sessions[fact]
    given = rows[fact]
    places = rows["session"].to_numpy()
    first = _stating(given, places, counted)
    values = stored.to_numpy(copy=True)
    values[places[first]] = given.iloc[first].to_numpy()
    return stored.where(stored.notna(), pd.Series(values, stored.index, dtype=stored.dtype))


def _stating(given: pd.Series, places: Places, counted: Mask) -> npt.NDArray[np.intp]:
    """Return the first counted row of each session that states a fact."""
    stating = np.flatnonzero(given.notna().to_numpy() & counted & (places >= 0))
    return stating[~pd.Series(places[stating]).duplicated().to_numpy()]


def at_places(values: pd.Series, places: Places) -> npt.NDArray[Any]:
    """Return the value of each row's session, missing if it has none."""
    known = values.to_numpy()
    missing = np.array([np.nan if known.dtype == float else None], dtype=known.dtype)
    return np.append(known, missing)[places]


def _differ(
    given: pd.Series, agreed: pd.Series, agreed_here: npt.NDArray[Any], places: Places
) -> Mask:
    """Return which rows state another value than the one agreed for their session."""
    if given.dtype == float:
        numbers = given.to_numpy()
        differ = numbers != agreed_here
        return np.asarray(differ & ~np.isnan(numbers) & ~np.isnan(agreed_here), dtype=bool)
    # Compare the codes of the file's categories; -2 is a text that the file does not have.
    codes = given.cat.categories.get_indexer(pd.Index(agreed, dtype=object))
    codes = np.where(agreed.isna(), -1, np.where(codes < 0, -2, codes))
    here, own = np.append(codes, -1)[places], given.cat.codes.to_numpy()
    return np.asarray((own >= 0) & (here != -1) & (own != here), dtype=bool)
