"""Rows whose effort is stored already or stands on an earlier line."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd

from db.file.frames import fetch, registered
from db.imports.parsed_rows import Faults, Mask
from db.imports.session_facts import at_places
from db.tables.cells import LIMITS

# Numbers that passed through a spreadsheet keep 15 digits.
SAME_RELATIVE = 1e-12


def check_stored(
    cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame, session_ids: pd.Series, faults: Faults
) -> Mask:
    """Mark rows that contradict a stored effort; return which rows have one."""
    ids = session_ids.dropna().to_frame()
    if ids.empty:
        return np.zeros(len(rows), dtype=bool)
    with registered(cursor, "named_session", ids):
        efforts = fetch(
            cursor,
            "SELECT session_id, effort, e.value AS value, e.volume AS volume, "
            "f.first_value, e.excluded IS NOT NULL OR f.ever_excluded AS excluded "
            "FROM named_session n JOIN effort e USING (session_id) "
            "LEFT JOIN first_effort_value f USING (effort_id)",
        ).astype({"session_id": float, "effort": float})
    named = pd.DataFrame(
        {
            "session_id": at_places(session_ids, rows["session"].to_numpy()),
            "effort": rows["effort"],
        }
    )
    stored = named.merge(efforts, "left", on=["session_id", "effort"])
    there = stored["value"].notna().to_numpy()
    same = _same(rows["value"], stored["value"]) | _same(rows["value"], stored["first_value"])
    faults.mark(
        there & ~same,
        "value",
        "{value} differs from {stored}, which is stored for this effort; correct the stored "
        "effort if this one is right",
        value=rows["value"],
        stored=stored["value"],
    )
    given = rows["volume_before"]
    faults.mark(
        there & given.notna() & ~_same(given, stored["volume"]),
        "volume_before",
        "{given} differs from {stored}, which is stored for this effort with the same value",
        given=given,
        stored=stored["volume"],
    )
    faults.mark(
        there & rows["excluded"].notna() & ~stored["excluded"].astype(object).eq(True),
        "excluded",
        "the effort is stored and used; exclude it where efforts are corrected",
    )
    return there


def check_doubled(rows: pd.DataFrame, candidates: Mask, faults: Faults) -> Mask:
    """Mark rows that contradict an earlier line; return which rows repeat one."""
    counted = np.flatnonzero(candidates & faults.clear)
    efforts = rows[["session", "effort"]].iloc[counted]
    codes, different = pd.factorize(
        efforts["session"] * (LIMITS["effort"][1] + 1) + efforts["effort"]
    )
    if len(different) == len(counted):
        return np.zeros(len(rows), dtype=bool)
    first = np.arange(len(rows))
    first[counted] = counted[~pd.Series(codes).duplicated().to_numpy()][codes]
    doubled = first != np.arange(len(rows))
    earlier = rows.iloc[first].reset_index(drop=True)
    given = {"value": rows["value"], "volume_before": rows["volume_before"]}
    before = {"value": earlier["value"], "volume_before": earlier["volume"]}
    for column, cells in given.items():
        faults.mark(
            doubled & cells.notna() & ~_same(cells, before[column]),
            column,
            "{given} differs from {before} on line {line}, which has the same effort",
            given=cells,
            before=before[column],
            line=earlier["line"],
        )
    faults.mark(
        doubled & rows["excluded"].notna() & earlier["excluded"].isna(),
        "excluded",
        "line {line} has the same effort and does not exclude it",
        line=earlier["line"],
    )
    return doubled


def _same(left: pd.Series, right: pd.Series) -> Mask:
    close = np.isclose(left.to_numpy(), right.to_numpy(dtype=float), rtol=SAME_RELATIVE, atol=0)
    return np.asarray(close, dtype=bool)
