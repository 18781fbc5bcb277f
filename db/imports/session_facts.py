"""What the rows of a session say about it, which must agree, and what the store knows already."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.imports.parsed_rows import Faults, Mask, Places
from db.imports.session_keys import FACTS


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
            fact,
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
