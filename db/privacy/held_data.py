"""What the store holds about one athlete: to count it, and to hand it over."""

from __future__ import annotations

import io
import os
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch
from db.file.opening import quoted
from db.file.relations import with_dependants
from db.file.store import Store
from db.fits.exports import csv_text
from db.privacy.identity import Identity, identity_of, naming, text_columns

SECRETS = frozenset({"password_hash", "token_sha256"})
NAMED_IN_TEXTS = frozenset({"set_aside_row", "audit"})


@dataclass(frozen=True)
class Held:
    """How much the store holds about an athlete.

    Attributes
    ----------
    code, name : str
        Of the athlete.
    accounts : tuple of str
        Sign-in names.
    rows : dict of str to int
        Rows about the athlete by table; tables without any are left out. Those of
        `set_aside_row` and `audit` are rows that name the athlete.
    """

    code: str
    name: str
    accounts: tuple[str, ...]
    rows: dict[str, int]


def held(store: Store, code: str) -> Held:
    """Count what the store holds about an athlete.

    Raises
    ------
    BadInput
        If there is no such athlete.
    """
    with store.reading() as cursor:
        identity = identity_of(cursor, code)
        # One statement for all: DuckDB takes longer to plan each than to count.
        counts = [
            f"SELECT {_text(table)}, count(*) FROM {_name(table)} WHERE {condition}"
            for table, condition in _about(cursor, identity).items()
        ]
        rows = dict(cursor.execute(" UNION ALL ".join(counts)).fetchall())
    found = {table: count for table, count in rows.items() if count}
    return Held(identity.code, identity.name, identity.accounts, found)


def athlete_frames(store: Store, code: str) -> dict[str, pd.DataFrame]:
    """Return everything the store holds about an athlete, a frame for each table.

    Hashes of passwords and of sign-ins are left out.

    Raises
    ------
    BadInput
        If there is no such athlete.
    """
    with store.reading() as cursor:
        identity = identity_of(cursor, code)
        about = _about(cursor, identity) | _beside(code)
        frames = {
            table: fetch(cursor, f'SELECT * FROM "{table}" WHERE {condition}')
            for table, condition in about.items()
        }
    kept = {
        table: frame.drop(columns=[name for name in frame if name in SECRETS])
        for table, frame in frames.items()
        if len(frame)
    }
    for table, columns in _OF_OTHERS_TOO.items():
        if table in kept:
            kept[table] = kept[table][columns]
    return kept


def athlete_zip(store: Store, code: str) -> bytes:
    """Return everything the store holds about an athlete as a zip of CSV files with a readme."""
    frames = athlete_frames(store, code)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", _readme(store, code, frames))
        for table, frame in frames.items():
            archive.writestr(f"{table}.csv", csv_text(frame))
    return packed.getvalue()


def write_athlete_zip(store: Store, code: str, path: Path | str) -> None:
    """Write the zip of `athlete_zip` to a new file that only its owner can read.

    Raises
    ------
    BadInput
        If there is no such athlete, the ending is not .zip, or the file already exists or
        cannot be written.
    """
    path = Path(path).expanduser()
    if path.suffix.lower() != ".zip":
        raise BadInput(f"The file is a zip, and {path.name} does not end in .zip.")
    content = athlete_zip(store, code)
    try:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
    except FileExistsError as error:
        raise BadInput(f"There is a file {path} already. Name another one.") from error
    except OSError as error:
        raise BadInput(
            f"The file {path} cannot be written: {error.strerror}. Check the folder."
        ) from error


# Rows that an athlete shares with others: only the columns that say where data are from and when.
_OF_OTHERS_TOO = {
    "fit": ["fit_id", "measure", "fitted_at", "version"],
    "import_batch": ["batch_id", "file", "imported_at", "person"],
}


def _beside(code: str) -> dict[str, str]:
    fits = f"SELECT fit_id FROM response WHERE athlete = {_text(code)}"
    batches = f"SELECT batch_id FROM effort_detail WHERE athlete = {_text(code)}"
    return {"fit": f"fit_id IN ({fits})", "import_batch": f"batch_id IN ({batches})"}


def _about(root: duckdb.DuckDBPyConnection, identity: Identity) -> dict[str, str]:
    """Return the condition of the rows about an athlete, by table."""
    found = with_dependants(root, {"athlete": f"athlete = {_text(identity.code)}"})
    for table in sorted(NAMED_IN_TEXTS):
        # Patterns take long to prepare, so skip a table in which this person sees no rows.
        if not root.execute(f"FROM {_name(table)} LIMIT 1").fetchall():
            continue
        named = [naming(column, identity) for name, column in text_columns(root) if name == table]
        found[table] = f"({' OR '.join(named)})"
    return found


def _name(table: str) -> str:
    return quoted(table, '"')


def _text(value: str) -> str:
    return quoted(value, "'")


def _readme(store: Store, code: str, frames: dict[str, pd.DataFrame]) -> str:
    """Say in plain words what each file holds, by the comments of the tables."""
    with store.reading() as cursor:
        tables = dict(cursor.execute("SELECT table_name, comment FROM duckdb_tables()").fetchall())
        columns = cursor.execute(
            "SELECT table_name, column_name, comment FROM duckdb_columns()"
        ).fetchall()
    meanings = {(table, column): comment for table, column, comment in columns}
    parts = [
        f"What the store holds about the athlete {code}, as far as the person who asked may see, "
        f"written on {datetime.now(UTC):%d %B %Y at %H:%M} UTC.\n\nEach file is a table: text with "
        "commas, the names of its columns in the first line; a spreadsheet opens it. Missing cells "
        "are empty. Times of sessions are local, all others UTC. Passwords and sign-ins are kept "
        "as hashes only, from which nobody can tell them; the hashes are left out.\n"
    ]
    for table, frame in frames.items():
        rows = f"{len(frame):,} row{'s' if len(frame) != 1 else ''}"
        parts.append(f"{table}.csv ({rows}): {tables.get(table) or ''}")
        parts += [f"  {name}: {meanings.get((table, name)) or ''}" for name in frame]
        parts.append("")
    return "\n".join(parts)
