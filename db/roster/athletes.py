from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast

import duckdb
import pandas as pd

from db.file.frames import fetch
from db.file.store import Store
from db.roster.squads import put_in_squads, squads_column
from db.tables.cells import Parser, athlete_code, text_up_to, yes_or_no
from db.tables.keyed_rows import Row, keyed_rows, whole_rows
from db.tables.limits import Progress, untold
from db.tables.text_tables import read_text_table

EARLIEST_BIRTH = date(1900, 1, 1)
NO_SQUAD = "-"


@dataclass(frozen=True)
class AthletesSaved:
    """How many athletes were added, updated, and left as they were."""

    added: int
    updated: int
    unchanged: int


def list_athletes(store: Store, active_only: bool = False) -> pd.DataFrame:
    """List the athletes by name.

    Returns
    -------
    DataFrame
        `athlete`, `name`, `position`, `born`, `active`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(PARSERS)} FROM athlete WHERE active OR NOT ? "
            "ORDER BY name, athlete",
            [active_only],
        )


def birth_dates(store: Store) -> dict[str, date]:
    """Return the known birth dates, by athlete."""
    with store.reading() as cursor:
        rows = cursor.execute("SELECT athlete, born FROM athlete WHERE born IS NOT NULL").fetchall()
    return dict(rows)


def read_athletes_file(
    source: Path | bytes, name: str = "", sheet: str = "", progress: Progress = untold
) -> pd.DataFrame:
    """Read a file of athletes (CSV, Parquet or Excel) as text, indexed by line.

    Raises
    ------
    BadInput
        If it cannot be read, lacks the column `athlete`, or has a row that breaks off.
    """
    return whole_rows(read_text_table(source, name, sheet, progress))


def save_athletes(store: Store, frame: pd.DataFrame, person: str) -> AthletesSaved:
    """Add the athletes of a frame, or update those already stored; all of them or none.

    Parameters
    ----------
    store : Store
        Where to.
    frame : DataFrame
        A row per athlete: `athlete` (code), and any of `name`, `position`, `born`, `active`
        and `squad` (several with `;` between, `-` for none). An empty cell or a missing column
        leaves what is stored; for a new athlete, the name is then the code, and the athlete is
        active.
    person : str
        Who saves.

    Raises
    ------
    BadInput
        If a column or a cell is not allowed, or a code occurs twice.
    """
    rows = keyed_rows(frame, FILE_PARSERS, "athlete")
    with store.reading() as cursor:
        saved, _ = _compared(cursor, rows)
    if saved.added or saved.updated:
        with store.writing(person, "save athletes", f"{len(rows)} rows") as cursor:
            saved, changed = _compared(cursor, rows)
            for row in changed:
                _save(cursor, row)
    return saved


def _born(text: str) -> date:
    try:
        born = date.fromisoformat(text[: len("2001-05-31")])
    except ValueError:
        raise ValueError(f"'{text}' is not a date; write it as 2001-05-31") from None
    if not EARLIEST_BIRTH <= born <= date.today():
        raise ValueError(f"{born} is no date of birth; check the year")
    return born


PARSERS: dict[str, Parser] = {
    "athlete": athlete_code,
    "name": text_up_to(100),
    "position": text_up_to(100),
    "born": _born,
    "active": yes_or_no,
}


def _squads(text: str) -> tuple[str, ...]:
    """Return the squads that a cell names, sorted."""
    if text == NO_SQUAD:
        return ()
    names = [name.strip() for name in text.split(";")]
    return tuple(sorted({_squad(name) for name in names if name}))


_squad = text_up_to(100)
FILE_PARSERS: dict[str, Parser] = PARSERS | {"squad": _squads}
NEW_ATHLETE: Row = {"position": None, "born": None, "active": True, "squad": ()}


def _compared(
    cursor: duckdb.DuckDBPyConnection, rows: list[Row]
) -> tuple[AthletesSaved, list[Row]]:
    """Count what saving would do, and return the rows to write."""
    fetched = cursor.execute(
        f"SELECT {', '.join(PARSERS)}, {squads_column('athlete')} FROM athlete"
    ).fetchall()
    stored = {
        values[0]: dict(zip(FILE_PARSERS, (*values, tuple(squads or ())), strict=True))
        for *values, squads in fetched
    }
    added, changed = 0, []
    for row in rows:
        before = stored.get(row["athlete"])
        after = (before or NEW_ATHLETE | {"name": row["athlete"]}) | {
            column: value for column, value in row.items() if value is not None
        }
        if after != before:
            changed.append(after)
            added += before is None
    return AthletesSaved(added, len(changed) - added, len(rows) - len(changed)), changed


def _save(cursor: duckdb.DuckDBPyConnection, row: Row) -> None:
    cursor.execute(
        "INSERT INTO athlete (athlete, name, position, born, active) "
        "VALUES ($athlete, $name, $position, $born, $active) "
        "ON CONFLICT (athlete) DO UPDATE SET name = excluded.name, "
        "position = excluded.position, born = excluded.born, active = excluded.active",
        {column: row[column] for column in PARSERS},
    )
    put_in_squads(cursor, "athlete", str(row["athlete"]), cast("tuple[str, ...]", row["squad"]))
