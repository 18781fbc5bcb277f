"""Sorts the rows of an efforts file into new, known and set aside."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd

from db.cells import athlete_code
from db.frames import fetch, registered
from db.measures import limits_text, measures_of
from db.parsed_rows import Faults, Mask, ParsedRows
from db.session_facts import FACTS, KEY, check_facts, sessions_of, settled

AS_WRITTEN = ["athlete", "started_at", "measure", "effort", "value"]
# Numbers that passed through a spreadsheet keep 15 digits.
SAME_RELATIVE = 1e-12


@dataclass(frozen=True)
class ImportCheck:
    """What an import would do; new + known + set aside = rows read.

    Attributes
    ----------
    new : DataFrame
        Rows to store: the parsed columns with the facts of the session, `session_id` where
        the session is stored already, and `volume`.
    known : int
        Rows whose effort is stored with the same value, or stands on an earlier line.
    set_aside : DataFrame
        `line`, `athlete`, `started_at`, `measure`, `effort`, `value` as written, `column`,
        `reason`, `row_text`.
    new_athletes : tuple of str
        Codes that would be added.
    rows_read : int
        Rows below the header.
    ignored_columns : tuple of str
        Columns of the file that the format does not have.
    filled : DataFrame
        `session_id` and facts of stored sessions that the store lacks and the file states.
    """

    new: pd.DataFrame
    known: int
    set_aside: pd.DataFrame
    new_athletes: tuple[str, ...]
    rows_read: int
    ignored_columns: tuple[str, ...]
    filled: pd.DataFrame


def sort_rows(
    cursor: duckdb.DuckDBPyConnection, parsed: ParsedRows, add_athletes: bool
) -> ImportCheck:
    """Sort parsed rows against each other and against what a cursor sees.

    Parameters
    ----------
    cursor : DuckDBPyConnection
        A unit of work.
    parsed : ParsedRows
        The rows, with the faults of their cells.
    add_athletes : bool
        Whether rows of unknown athletes are stored, and the athletes with them.
    """
    rows, faults = parsed.frame.copy(), parsed.faults.copy()
    stored_athletes = set(fetch(cursor, "SELECT athlete FROM athlete")["athlete"])
    _check_athletes(rows["athlete"], stored_athletes, add_athletes, faults)
    _check_measures(cursor, rows, faults)
    sessions = sessions_of(cursor, rows[faults.clear])
    rows["session"] = _places(rows, sessions)
    check_facts(rows, sessions, faults)
    sessions["kind"] = settled("kind", rows, sessions, faults.clear).fillna("routine")
    rows["volume"] = _volumes(rows, sessions, faults)
    rows["session_id"] = sessions["session_id"].reindex(rows["session"]).to_numpy()
    stored = _check_stored(cursor, rows, faults)
    doubled = _check_doubled(rows, ~stored, faults)
    accepted = faults.clear
    facts = _facts(rows, sessions, accepted)
    new = rows[accepted & ~stored & ~doubled]
    new = new.drop(columns=list(FACTS)).join(facts, on="session")
    return ImportCheck(
        new=new,
        known=int((accepted & (stored | doubled)).sum()),
        set_aside=_set_aside(parsed, faults),
        new_athletes=tuple(sorted(set(new["athlete"]) - stored_athletes)),
        rows_read=len(rows),
        ignored_columns=parsed.ignored_columns,
        filled=_filled(facts, sessions),
    )


def _check_athletes(
    athletes: pd.Series, stored: set[str], add_athletes: bool, faults: Faults
) -> None:
    spellings = {code.casefold(): code for code in stored}
    reasons = {
        name: _athlete_fault(name, stored, spellings, add_athletes)
        for name in athletes.dropna().unique()
    }
    why = athletes.map(reasons)
    faults.mark(why.notna(), "athlete", "{why}", why=why)


def _athlete_fault(
    name: str, stored: set[str], spellings: dict[str, str], add_athletes: bool
) -> str | None:
    if name in stored:
        return None
    if name.casefold() in spellings:
        return f"there is no athlete '{name}', but there is '{spellings[name.casefold()]}'"
    if not add_athletes:
        return f"there is no athlete '{name}'; add the athlete, or let the import add athletes"
    try:
        athlete_code(name)
    except ValueError as error:
        return str(error)
    return None


def _check_measures(cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame, faults: Faults) -> None:
    measures = {measure.code: measure for measure in measures_of(cursor)}
    code, value = rows["measure"], rows["value"]
    faults.mark(
        code.notna() & ~code.isin(list(measures)),
        "measure",
        "there is no measure '{code}'; the measures are {known}",
        code=code,
        known=pd.Series(", ".join(measures), index=code.index),
    )
    lowest = code.map({name: measure.lowest for name, measure in measures.items()}).astype(float)
    highest = code.map({name: measure.highest for name, measure in measures.items()}).astype(float)
    faults.mark(
        (value < lowest) | (value > highest),
        "value",
        "{value} is outside {limits}, the limits of {code}",
        value=value,
        limits=code.map({name: limits_text(measure) for name, measure in measures.items()}),
        code=code,
    )


def _places(rows: pd.DataFrame, sessions: pd.DataFrame) -> pd.Series:
    """Give the position of each row's session, missing where it has none."""
    places = sessions[KEY].assign(place=range(len(sessions)))
    return rows[KEY].merge(places, how="left", on=KEY)["place"]


def _volumes(rows: pd.DataFrame, sessions: pd.DataFrame, faults: Faults) -> pd.Series:
    """Give the volume before each effort; in a fade test it is the number of efforts before."""
    fade = (sessions["kind"] == "fade").reindex(rows["session"], fill_value=False).to_numpy()
    volumes = rows["volume_before"].where(rows["volume_before"].notna() | ~fade, rows["effort"] - 1)
    faults.mark(
        volumes.isna(),
        "volume_before",
        "a routine session needs the volume done before each effort",
    )
    return volumes


def _check_stored(cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame, faults: Faults) -> Mask:
    """Mark rows that contradict a stored effort; say which rows have one."""
    ids = rows[["session_id"]].dropna().drop_duplicates()
    with registered(cursor, "named_session", ids):
        efforts = fetch(
            cursor,
            "SELECT session_id, effort, e.value AS value, e.volume AS volume, "
            "f.first_value, e.excluded IS NOT NULL OR f.ever_excluded AS excluded "
            "FROM named_session n JOIN effort e USING (session_id) "
            "LEFT JOIN first_effort_value f USING (effort_id)",
        ).astype({"session_id": float, "effort": float})
    stored = rows[["session_id", "effort"]].merge(efforts, "left", on=["session_id", "effort"])
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


def _check_doubled(rows: pd.DataFrame, candidates: Mask, faults: Faults) -> Mask:
    """Mark rows that contradict an earlier line; say which rows repeat one."""
    counted = rows[candidates & faults.clear]
    place = pd.Series(counted.index, index=counted.index)
    first = place.groupby([counted["session"], counted["effort"]]).transform("first")
    first = first.reindex(rows.index, fill_value=-1)
    doubled = ((first >= 0) & (first != rows.index)).to_numpy()
    earlier = rows.loc[np.where(doubled, first, rows.index)].reset_index(drop=True)
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


def _facts(rows: pd.DataFrame, sessions: pd.DataFrame, accepted: Mask) -> pd.DataFrame:
    return pd.DataFrame({fact: settled(fact, rows, sessions, accepted) for fact in FACTS})


def _filled(facts: pd.DataFrame, sessions: pd.DataFrame) -> pd.DataFrame:
    stored = sessions["session_id"].notna()
    gained = (facts.notna() & sessions[list(FACTS)].isna()).any(axis="columns")
    filled = facts[stored & gained]
    return filled.assign(session_id=sessions["session_id"].loc[filled.index].astype("int64"))


def _set_aside(parsed: ParsedRows, faults: Faults) -> pd.DataFrame:
    faulty = ~faults.clear
    written = parsed.table.frame.loc[faulty, AS_WRITTEN].reset_index()
    return written.assign(
        column=faults.column[faulty],
        reason=faults.reason[faulty],
        row_text=parsed.table.row_texts(written["line"]),
    )


def _same(left: pd.Series, right: pd.Series) -> Mask:
    close = np.isclose(left.to_numpy(), right.to_numpy(dtype=float), rtol=SAME_RELATIVE, atol=0)
    return np.asarray(close, dtype=bool)
