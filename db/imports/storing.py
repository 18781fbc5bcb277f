from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd

from db.file.connection import current_revision
from db.file.frames import fetch, insert, registered
from db.file.store import Store
from db.imports.effort_files import COLUMNS, RawTable, check_columns
from db.imports.parsed_rows import ParsedRows, parse_rows
from db.imports.row_checks import ImportCheck, sort_rows
from db.imports.sampled_rows import check_sample
from db.imports.session_keys import FACTS, KEY, TURN, session_ids
from db.imports.undo import remember_filled, remember_touched
from db.tables.limits import Progress, untold

__all__ = [
    "ImportReport",
    "check_rows",
    "import_efforts",
    "keep_rows",
    "store_rows",
]

_SHARE_READ, _SHARE_SORTED = 0.4, 0.7


@dataclass(frozen=True)
class ImportReport:
    """What an import did; stored + known + set aside = rows read.

    Attributes
    ----------
    batch_id : int
        Number of the import, or of the earlier one if the file brought nothing new.
    file : str
        Name of the file.
    rows_read, stored, known, set_aside : int
        Counts of rows.
    new_athletes : tuple of str
        Codes of athletes that were added.
    sessions : int
        Sessions that the stored rows belong to.
    filled_sessions : int
        Sessions stored before that gained a fact.
    ignored_columns : tuple of str
        Columns of the file that the format does not have.
    asked : frozenset of str
        What the person who imports the file can state to settle rows, as in `ParsedRows`.
    """

    batch_id: int
    file: str
    rows_read: int
    stored: int
    known: int
    set_aside: int
    new_athletes: tuple[str, ...]
    sessions: int
    filled_sessions: int
    ignored_columns: tuple[str, ...]
    asked: frozenset[str]


def check_rows(
    store: Store, table: RawTable, add_athletes: bool = False, progress: Progress = untold
) -> ImportCheck:
    """Sort the rows of an efforts file as an import would, but store nothing.

    Raises
    ------
    UnusableFile
        If nearly none of its rows can be used, or too many of them cannot.
    """
    parsed = _parsed(store, table, add_athletes, progress)
    with store.reading() as cursor:
        return sort_rows(cursor, parsed, add_athletes, progress)


def import_efforts(
    store: Store,
    table: RawTable,
    person: str,
    add_athletes: bool = False,
    progress: Progress = untold,
) -> ImportReport:
    """Store the new rows of an efforts file and set the faulty ones aside, all or nothing.

    Importing the same file again changes nothing, unless the store has changed and sorts its
    rows differently now.

    Parameters
    ----------
    store : Store
        Where to store the rows.
    table : RawTable
        The file, from `read_table`.
    person : str
        Who imports it.
    add_athletes : bool
        Whether unknown athletes are added.
    progress : callable, optional
        Called with the share done, from 0 to 1, and what is being done.

    Raises
    ------
    UnusableFile
        If nearly none of its rows can be used, or too many of them cannot; nothing is stored.
    """

    def tell(share: float, what: str) -> None:
        progress(share * _SHARE_READ, what)

    parsed = _parsed(store, table, add_athletes, tell)
    progress(_SHARE_READ, "Comparing with the store")
    report = _unchanged(store, parsed, add_athletes)
    if report is None:
        with store.writing(person, "import efforts", table.name) as cursor:
            check = sort_rows(cursor, parsed, add_athletes)
            progress(_SHARE_SORTED, f"Storing {len(check.new)} efforts")
            report = keep_rows(cursor, table, person, check)
    progress(1.0, "Done")
    return report


def keep_rows(
    cursor: duckdb.DuckDBPyConnection, table: RawTable, person: str, check: ImportCheck
) -> ImportReport:
    """Store sorted rows as one import within a unit of work."""
    report = _report(_keep_batch(cursor, table, person, check), table, check)
    remember_touched(cursor, check.sessions["session_id"], report.batch_id)
    remember_filled(cursor, check.filled, report.batch_id)
    store_rows(cursor, check, report.batch_id)
    return report


def store_rows(cursor: duckdb.DuckDBPyConnection, check: ImportCheck, batch_id: int | None) -> None:
    """Store checked rows: new athletes and sessions, efforts, facts that were missing."""
    if codes := check.new_athletes:
        insert(cursor, "athlete", pd.DataFrame({"athlete": codes, "name": codes}, dtype=str))
    named = check.sessions.loc[check.new["session"].unique()]
    insert(cursor, "session", named.loc[named["session_id"].isna(), [*KEY, TURN, *FACTS]])
    ids = session_ids(cursor, named)
    efforts = check.new[["effort", "value", "volume"]].assign(
        session_id=ids.reindex(check.new["session"]).to_numpy(np.int64),
        excluded=check.new["excluded"].astype(object),
    )
    with registered(cursor, "new_effort", efforts):
        cursor.execute(
            "INSERT INTO effort (session_id, effort, value, volume, excluded, batch_id, revision) "
            "SELECT session_id, effort, value, volume, excluded, ?, ? FROM new_effort",
            [batch_id, current_revision(cursor)],
        )
    _fill_facts(cursor, check.filled)


def _parsed(store: Store, table: RawTable, add_athletes: bool, progress: Progress) -> ParsedRows:
    """Read the cells of a table, if a sample of its rows shows that it is worth it."""
    check_columns(table)
    progress(0.0, "Judging some of the rows")
    check_sample(store, table, add_athletes)
    return parse_rows(table, progress)


def _fill_facts(cursor: duckdb.DuckDBPyConnection, filled: pd.DataFrame) -> None:
    if filled.empty:
        return
    with registered(cursor, "filled_session", filled):
        facts = ", ".join(f"{fact} = f.{fact}" for fact in FACTS)
        cursor.execute(
            f"UPDATE session SET {facts} FROM filled_session f "
            "WHERE session.session_id = f.session_id"
        )
        cursor.execute(
            "UPDATE effort SET revision = ? FROM filled_session f "
            "WHERE effort.session_id = f.session_id",
            [current_revision(cursor)],
        )


def _unchanged(store: Store, parsed: ParsedRows, add_athletes: bool) -> ImportReport | None:
    """Report on a file that was imported before and would change nothing now."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT max(batch_id) FROM import_batch WHERE sha256 = ?", [parsed.table.sha256]
        ).fetchone()
        if row is None or row[0] is None:
            return None
        check = sort_rows(cursor, parsed, add_athletes)
        aside = fetch(
            cursor, "SELECT line FROM set_aside_row WHERE batch_id = ? ORDER BY line", [row[0]]
        )
    # Compare lines, not reasons: a row that conflicted with another line conflicts with the store
    # now. If the lines are the same, no row that was set aside has become storable. Rows can still
    # be new if they were taken out of the store, or are read differently now.
    same = check.new.empty and aside["line"].tolist() == check.set_aside["line"].tolist()
    return _report(row[0], parsed.table, check) if same else None


def _keep_batch(
    cursor: duckdb.DuckDBPyConnection, table: RawTable, person: str, check: ImportCheck
) -> int:
    row = cursor.execute(
        "INSERT INTO import_batch (file, sha256, person, rows_read, stored, known, set_aside) "
        "VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING batch_id",
        [
            table.name,
            table.sha256,
            person,
            check.rows_read,
            len(check.new),
            check.known,
            len(check.set_aside),
        ],
    ).fetchone()
    batch_id = int(row[0]) if row else 0
    aside = check.set_aside
    insert(
        cursor,
        "set_aside_row",
        aside.assign(
            batch_id=batch_id,
            place=aside.groupby("line").cumcount() + 1,
            cells_json=_cells_json(table.frame.iloc[aside.index], check.as_read),
        ),
    )
    return batch_id


def _cells_json(frame: pd.DataFrame, as_read: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Write each row's filled cells by column, so that they can be read without the file."""
    known = frame[[column for column in COLUMNS if column in frame]]
    return [
        json.dumps(
            {
                column: as_read.get(str(column), {}).get(cell.strip(), cell)
                for column, cell in row.items()
                if cell
            },
            ensure_ascii=False,
        )
        for row in known.to_dict("records")
    ]


def _report(batch_id: int, table: RawTable, check: ImportCheck) -> ImportReport:
    return ImportReport(
        batch_id=batch_id,
        file=table.name,
        rows_read=check.rows_read,
        stored=len(check.new),
        known=check.known,
        set_aside=len(check.set_aside),
        new_athletes=check.new_athletes,
        sessions=check.new["session"].nunique(),
        filled_sessions=len(check.filled),
        ignored_columns=check.ignored_columns,
        asked=check.asked,
    )
