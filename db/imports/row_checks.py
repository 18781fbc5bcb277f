"""Sort the rows of an efforts file into new, known and set aside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd

from db.file.frames import fetch
from db.imports.parsed_rows import Faults, ParsedRows, looked_up
from db.imports.repeated_efforts import check_doubled, check_stored
from db.imports.session_facts import at_places, check_facts, settled
from db.imports.session_keys import FACTS, KEY, sessions_of
from db.roster.measures import Measure, limits_text, measures_of
from db.roster.merging import merged_codes
from db.tables.cells import athlete_code
from db.tables.limits import Progress, untold

NEW = ["line", *KEY, "kind", "effort", "value", "volume", "excluded", "session"]
AS_WRITTEN = ["athlete", "started_at", "measure", "effort", "value"]


@dataclass(frozen=True)
class ImportCheck:
    """What an import would do; new + known + set aside = rows read.

    Attributes
    ----------
    new : DataFrame
        Rows to store: `line`, `athlete`, `measure`, `started_at`, `kind`, `effort`, `value`,
        `volume`, `excluded`, and `session`, a row of `sessions`.
    sessions : DataFrame
        The sessions of the file: `athlete`, `measure`, `started_at`, `turn`, `session_id` where
        the session is stored already, and all its facts.
    known : int
        Rows whose effort is stored with the same value, or stands on an earlier line.
    set_aside : DataFrame
        `line`, `athlete`, `started_at`, `measure`, `effort`, `value` as written, `column`,
        `reason`, `row_text`; the index is the position among the rows.
    new_athletes : tuple of str
        Codes that would be added.
    rows_read : int
        Rows below the header.
    ignored_columns : tuple of str
        Columns of the file that the format does not have.
    filled : DataFrame
        `session_id` and all facts of stored sessions that gain a fact from the file.
    as_read, asked
        As in `ParsedRows`.
    """

    new: pd.DataFrame
    sessions: pd.DataFrame
    known: int
    set_aside: pd.DataFrame
    new_athletes: tuple[str, ...]
    rows_read: int
    ignored_columns: tuple[str, ...]
    filled: pd.DataFrame
    as_read: Mapping[str, Mapping[str, str]]
    asked: frozenset[str]


def sort_rows(
    cursor: duckdb.DuckDBPyConnection,
    parsed: ParsedRows,
    add_athletes: bool,
    progress: Progress = untold,
) -> ImportCheck:
    """Sort parsed rows by comparing them with each other and with what a cursor sees.

    Parameters
    ----------
    cursor : DuckDBPyConnection
        A unit of work.
    parsed : ParsedRows
        The rows, with the faults of their cells.
    add_athletes : bool
        Whether rows of unknown athletes are stored, and the athletes with them.
    progress : callable, optional
        Called with the share done, from 0 to 1, and what is being done.

    Raises
    ------
    UnusableFile
        If more rows have a fault than may be set aside from one file.
    """
    progress(0.0, "Comparing with the store")
    rows, faults = parsed.frame.copy(deep=False), parsed.faults.copy()
    if merged := merged_codes(cursor):
        codes = rows["athlete"].astype(object)
        rows["athlete"] = codes.map(lambda code: merged.get(code, code)).astype("category")
    stored_athletes = set(fetch(cursor, "SELECT athlete FROM athlete")["athlete"])
    _check_athletes(rows["athlete"], stored_athletes, add_athletes, faults)
    _check_measures(cursor, rows, faults)
    progress(0.2, "Telling sessions apart")
    rows["session"], sessions = sessions_of(cursor, rows, faults)
    progress(0.4, "Comparing the rows of each session")
    check_facts(rows, sessions, faults)
    kinds = settled("kind", rows, sessions, faults.clear).fillna("routine")
    rows["kind"] = at_places(kinds, rows["session"].to_numpy())
    rows["volume"] = _volumes(rows, faults)
    progress(0.6, "Comparing with the efforts of the store")
    stored = check_stored(cursor, rows, sessions["session_id"], faults)
    doubled = check_doubled(rows, ~stored, faults)
    progress(0.8, "Gathering the sessions")
    accepted = faults.clear
    facts = {fact: settled(fact, rows, sessions, accepted) for fact in FACTS if fact != "kind"}
    facts["kind"] = kinds
    new = rows.loc[accepted & ~stored & ~doubled, NEW]
    return ImportCheck(
        new=new,
        sessions=sessions.assign(**facts),
        known=int((accepted & (stored | doubled)).sum()),
        set_aside=_set_aside(parsed, faults),
        new_athletes=tuple(sorted(set(new["athlete"].unique()) - stored_athletes)),
        rows_read=len(rows),
        ignored_columns=parsed.ignored_columns,
        filled=_filled(pd.DataFrame(facts), sessions),
        as_read=parsed.as_read,
        asked=parsed.asked,
    )


def _check_athletes(
    athletes: pd.Series, stored: set[str], add_athletes: bool, faults: Faults
) -> None:
    spellings = {code.casefold(): code for code in stored}
    reasons = {
        name: _athlete_fault(name, stored, spellings, add_athletes)
        for name in athletes.cat.categories
    }
    if any(reasons.values()):
        why = looked_up(athletes, reasons, None)
        faults.mark(pd.notna(why), "athlete", "{why}", why=why)


def unknown_athlete(name: str) -> str:
    """Return the reason for setting aside a row if the store does not know its athlete."""
    return f"there is no athlete '{name}'; add the athlete, or let the import add athletes"


def _athlete_fault(
    name: str, stored: set[str], spellings: dict[str, str], add_athletes: bool
) -> str | None:
    if name in stored:
        return None
    if name.casefold() in spellings:
        return f"there is no athlete '{name}', but there is '{spellings[name.casefold()]}'"
    if not add_athletes:
        return unknown_athlete(name)
    try:
        athlete_code(name)
    except ValueError as error:
        return str(error)
    return None


def _check_measures(cursor: duckdb.DuckDBPyConnection, rows: pd.DataFrame, faults: Faults) -> None:
    measures = {measure.code: measure for measure in measures_of(cursor)}
    code, value = rows["measure"], rows["value"]
    unknown = dict.fromkeys(set(code.cat.categories) - set(measures), ", ".join(measures))
    if unknown:
        known = looked_up(code, unknown, None)
        faults.mark(
            pd.notna(known),
            "measure",
            "there is no measure '{code}'; the measures are {known}",
            code=code,
            known=known,
        )
    limits = {
        end: looked_up(
            code, {name: _limit(measure, end) for name, measure in measures.items()}, np.nan
        )
        for end in ("lowest", "highest")
    }
    faults.mark(
        (value < limits["lowest"]) | (value > limits["highest"]),
        "value",
        "{value} is outside {limits}, the limits of {code}",
        value=value,
        limits=looked_up(code, {name: limits_text(each) for name, each in measures.items()}, None),
        code=code,
    )


def _limit(measure: Measure, end: str) -> float:
    limit = getattr(measure, end)
    return np.nan if limit is None else float(limit)


def _volumes(rows: pd.DataFrame, faults: Faults) -> pd.Series:
    """Return the volume before each effort; a fade test without one counts the efforts before."""
    volumes = rows["volume_before"]
    if volumes.isna().any():
        volumes = volumes.where(volumes.notna() | (rows["kind"] != "fade"), rows["effort"] - 1)
    faults.mark(
        volumes.isna(),
        "volume_before",
        "a routine session needs the volume done before each effort",
    )
    return volumes


def _filled(facts: pd.DataFrame, sessions: pd.DataFrame) -> pd.DataFrame:
    stored = sessions["session_id"].notna()
    gained = (facts.notna() & sessions[list(FACTS)].isna()).any(axis="columns")
    filled = facts[stored & gained]
    return filled.assign(session_id=sessions["session_id"].loc[filled.index].astype("int64"))


def _set_aside(parsed: ParsedRows, faults: Faults) -> pd.DataFrame:
    faulty = np.flatnonzero(~faults.clear)
    written = parsed.table.frame[AS_WRITTEN].iloc[faulty].reset_index()
    return written.set_axis(faulty).assign(
        column=faults.column[faulty],
        reason=faults.reason[faulty],
        row_text=parsed.table.row_texts(written["line"]),
    )
