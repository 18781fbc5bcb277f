from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import duckdb

from db.errors import StoreDamaged, StoreError
from db.file.frames import fetch_number
from db.file.opening import quoted
from db.file.transactions import transaction
from db.file.unfinished import unfinished

SCHEMA_FOLDER = Path(__file__).parent / "schema"


def schema_files() -> list[Path]:
    """List the schema files in order, numbered 1, 2, 3 without gaps."""
    files = sorted(SCHEMA_FOLDER.glob("*.sql"))
    if [_number(file) for file in files] != list(range(1, len(files) + 1)):
        raise StoreError(
            f"The schema files in {SCHEMA_FOLDER} are not numbered 1, 2, 3 without gaps: "
            f"{', '.join(file.name for file in files)}. Install the program again."
        )
    return files


def newest() -> int:
    """Return the schema version that this program writes."""
    return len(schema_files())


def version(root: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Return the schema version of an open store; 0 for a file without tables."""
    try:
        return fetch_number(root, "SELECT coalesce(max(version), 0) FROM schema_version")
    except (duckdb.CatalogException, duckdb.BinderException) as error:
        if fetch_number(root, "SELECT count(*) FROM duckdb_tables()") == 0:
            return 0
        raise StoreDamaged(
            f"The file {path} is a DuckDB file, but not a store of this program. Nothing was "
            "changed. Name another file."
        ) from error


def upgrade(root: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Bring an open store to the newest schema, one file at a time.

    A store with data is first copied, into its own folder. Each file is applied in one
    transaction with its version row, and a checkpoint follows at once. So no change of schema
    waits in the log, where replaying it after a crash is most fragile.
    """
    reached = version(root, path)
    pending = schema_files()[reached:]
    copy = _copy_path(path, reached)
    if reached and pending:
        _copy_first(root, copy)
    try:
        for file in pending:
            _apply(root, file)
            root.execute("CHECKPOINT")
    except StoreError:
        if version(root, path) == reached:
            copy.unlink(missing_ok=True)  # nothing was changed, and the next try copies again
        raise


def _copy_first(root: duckdb.DuckDBPyConnection, copy: Path) -> None:
    try:
        with unfinished(copy.parent) as part:
            copy_store(root, part / "store.duckdb").replace(copy)
    except OSError as error:
        raise StoreError(
            f"The store must be copied before it is brought to a newer schema, and {copy} could "
            f"not be written: {error.strerror}. Nothing was changed. Check the folder and the "
            "room on the disk."
        ) from error


def build(root: duckdb.DuckDBPyConnection, reached: int) -> None:
    """Make the tables of an earlier schema, or of the newest, in an empty file."""
    for file in schema_files()[:reached]:
        _apply(root, file)


def copy_store(root: duckdb.DuckDBPyConnection, target: Path) -> Path:
    """Write a whole copy of an open store to a new file, readable by its owner only."""
    row = root.execute("SELECT current_database()").fetchone()
    source = str(row[0]) if row else ""
    root.execute(f"ATTACH {quoted(str(target), chr(39))} AS copy_of_store")
    try:
        target.chmod(0o600)
        root.execute(f"COPY FROM DATABASE {quoted(source, chr(34))} TO copy_of_store")
    finally:
        root.execute("DETACH copy_of_store")
    return target


def _apply(root: duckdb.DuckDBPyConnection, file: Path) -> None:
    try:
        with transaction(root):
            root.execute(file.read_text(encoding="utf-8"))
            root.execute(
                "INSERT INTO schema_version (version, name) VALUES (?, ?)",
                [_number(file), file.name],
            )
    except duckdb.Error as error:
        raise StoreError(
            f"The store could not be brought to schema {_number(file)}: "
            f"{str(error).splitlines()[0]} It was left at schema {_number(file) - 1}. "
            "Keep using the earlier version of the program."
        ) from error


def _number(file: Path) -> int:
    return int(file.name.split("_")[0])


def _copy_path(path: Path, reached: int) -> Path:
    moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%S.%fZ")
    return path.with_name(f"{path.stem}.schema-{reached}.{moment}{path.suffix}")
