"""The library of exercises; the built-in ones come with the schema."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch
from db.file.store import Store
from db.fits.exports import csv_text
from db.roster.measures import CODE
from db.tables.cells import Parser, text_up_to, whole_number_between, word_of, yes_or_no
from db.tables.keyed_rows import Row, keyed_rows, whole_rows
from db.tables.limits import Progress, untold
from db.tables.text_tables import read_text_table

REGIONS = ("lower", "upper", "trunk", "whole")
JOINTS = (
    "ankle",
    "knee",
    "hip",
    "spine",
    "shoulder blade",
    "shoulder",
    "neck",
    "elbow",
    "wrist",
)
KINDS = (
    "squat",
    "hinge",
    "lunge",
    "push",
    "pull",
    "weightlifting",
    "jump",
    "throw",
    "sprint",
    "carry",
    "trunk",
    "single joint",
    "skill",
)
BETWEEN_JOINTS = ";"
NEEDED = ("region", "joints", "complexity", "kind")
_KEPT = ("exercise", "name", *NEEDED, "active")


@dataclass(frozen=True)
class ExercisesSaved:
    """How many exercises were added, changed, and left as they were."""

    added: int
    changed: int
    unchanged: int


def _code(text: str) -> str:
    if not CODE.fullmatch(text):
        raise ValueError(
            f"'{text}' cannot be a code; take up to 40 letters, digits, '_', '-' and '.'"
        )
    return text


def _joints(text: str) -> str:
    """Return the joints that a cell names, in our order."""
    named = {joint.strip().lower() for joint in text.split(BETWEEN_JOINTS) if joint.strip()}
    if unknown := sorted(named - set(JOINTS)):
        raise ValueError(f"'{unknown[0]}' is no joint; the joints are {', '.join(JOINTS)}")
    return BETWEEN_JOINTS.join(joint for joint in JOINTS if joint in named)


PARSERS: dict[str, Parser] = {
    "exercise": _code,
    "name": text_up_to(60),
    "region": word_of(*REGIONS),
    "joints": _joints,
    "complexity": whole_number_between(1, 3),
    "kind": word_of(*KINDS),
    "active": yes_or_no,
}


def list_exercises(store: Store, active_only: bool = False) -> pd.DataFrame:
    """List the exercises by name.

    Returns
    -------
    DataFrame
        `exercise`, `name`, `region`, `joints` (between semicolons), `complexity`, `kind`,
        `active`, `built_in`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(_KEPT)}, built_in FROM exercise WHERE active OR NOT ? "
            "ORDER BY lower(name), exercise",
            [active_only],
        )


def exercises_csv(store: Store) -> str:
    """Return the library as CSV that `read_exercises_file` reads."""
    rows = list_exercises(store)[list(_KEPT)]
    return csv_text(rows.assign(active=rows["active"].map({True: "yes", False: "no"})))


def read_exercises_file(
    source: Path | bytes, name: str = "", sheet: str = "", progress: Progress = untold
) -> pd.DataFrame:
    """Read a file of exercises (CSV, Parquet or Excel) as text, indexed by line.

    Raises
    ------
    BadInput
        If it cannot be read, or a row is incomplete.
    """
    return whole_rows(read_text_table(source, name, sheet, progress))


def save_exercises(store: Store, frame: pd.DataFrame, person: str) -> ExercisesSaved:
    """Add the exercises of a frame and change those that are known; all of them or none.

    Parameters
    ----------
    store : Store
        Where to save them.
    frame : DataFrame
        A row per exercise: `exercise` (code) and any of the columns of `list_exercises` but
        `built_in`. An empty cell or a missing column leaves what is stored. A new exercise needs
        `region`, `joints`, `complexity` and `kind`; without a name it gets its code as the name.
    person : str
        Who saves.

    Raises
    ------
    BadInput
        If a column or a cell is not allowed, a code appears twice, or a new exercise lacks
        something.
    """
    rows = keyed_rows(frame, PARSERS, "exercise")
    with store.reading() as cursor:
        saved, changed = _compared(cursor, rows)
    if changed:
        with store.writing(person, "save exercises", f"{len(changed)} rows") as cursor:
            saved, changed = _compared(cursor, rows)
            for row in changed:
                _save(cursor, row)
    return saved


def _compared(
    cursor: duckdb.DuckDBPyConnection, rows: list[Row]
) -> tuple[ExercisesSaved, list[Row]]:
    """Count what saving would do, and return the rows to write."""
    fetched = cursor.execute(f"SELECT {', '.join(_KEPT)} FROM exercise").fetchall()
    stored = {values[0]: dict(zip(_KEPT, values, strict=True)) for values in fetched}
    added, changed = 0, []
    for row in rows:
        before = stored.get(row["exercise"])
        given = {column: value for column, value in row.items() if value is not None}
        after = (before or {"name": row["exercise"], "active": True}) | given
        if lacking := [column for column in NEEDED if not after.get(column)]:
            raise BadInput(
                f"The exercise '{row['exercise']}' is new and needs {', '.join(lacking)}. Nothing "
                "was stored."
            )
        if after != before:
            changed.append(after)
            added += before is None
    return ExercisesSaved(added, len(changed) - added, len(rows) - len(changed)), changed


def _save(cursor: duckdb.DuckDBPyConnection, row: Row) -> None:
    columns = ", ".join(_KEPT)
    cursor.execute(
        f"INSERT INTO exercise ({columns}) VALUES ({', '.join('?' for _ in _KEPT)}) "
        "ON CONFLICT (exercise) DO UPDATE SET built_in = false, "
        + ", ".join(f"{column} = excluded.{column}" for column in _KEPT[1:]),
        [row[column] for column in _KEPT],
    )
