"""Opens a store's DuckDB file, and puts into words why it would not open."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from db.errors import StoreBusy, StoreDamaged, StoreError, StoreMissing, StoreTooNew
from db.file.waits import Wait

# Trying to load an extension that is not there costs seconds, and none is needed.
SETTINGS = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "memory_limit": "2GB",
}


Settings = dict[str, str | bool | int | float | list[str]]


def connect(path: Path, wait: Wait, external_access: bool) -> duckdb.DuckDBPyConnection:
    """Open a file for this process alone, waiting a bounded time for another process.

    Parameters
    ----------
    path : Path
        The file; DuckDB makes it if it is not there.
    wait : Wait
        How long.
    external_access : bool
        Whether statements may touch other files.
    """
    settings: Settings = {
        **SETTINGS,
        "enable_external_access": str(external_access).lower(),
    }
    while True:
        file_before = _identity(path)
        try:
            root = _opened(path, settings)
        except duckdb.Error as error:
            # The second wording is Windows's (from memory).
            if not _says(error, "Could not set lock", "used by another process"):
                if file_before not in (None, _identity(path)):
                    continue  # a rewritten store took its place and left it empty
                raise _unreadable(path, error) from error
            if not wait.left:
                raise _busy_elsewhere(path, wait, error) from error
            wait.pause(f"The store is held by {_holder(error)}.")
        else:
            if file_before not in (None, _identity(path)):
                root.close()  # a rewritten store took its place between opening and locking
                if not wait.left:
                    raise busy_here(path, wait)
                continue
            root.execute("SET GLOBAL TimeZone = 'UTC'")
            root.execute("SET GLOBAL lock_configuration = true")
            return root


def _opened(path: Path, settings: Settings) -> duckdb.DuckDBPyConnection:
    """Open a file, with what a process that was killed had committed to its log.

    DuckDB 2.0 reads the log of the file that it starts with before its functions are there,
    and cannot replay a change of schema that needs one; of a file attached later it can.
    """
    try:
        return duckdb.connect(path, config=settings)
    except duckdb.CatalogException as error:
        if not _says(error, "replaying WAL"):
            raise
    with duckdb.connect(config=settings | {"enable_external_access": "true"}) as other:
        file = str(path).replace("'", "''")
        other.execute(f"ATTACH '{file}' AS replayed")
        other.execute("CHECKPOINT replayed")
        other.execute("DETACH replayed")
    return duckdb.connect(path, config=settings)


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn DuckDB's complaints about the file itself into sentences."""
    try:
        yield
    except duckdb.Error as error:
        if _says(error, "checksum", "Corrupt", "Could not read enough bytes", "INTERNAL Error"):
            raise _damaged(path, error) from error
        if _says(error, "No space left", "Could not write", "Could not fsync"):
            raise StoreError(
                f"The store {path} could not be written: {first_line(error)} Nothing of this "
                "was stored. Make room on the disk and try again."
            ) from error
        if _says(error, "Cannot open file", "Permission denied", "Read-only file"):
            raise StoreError(
                f"The store {path} could not be written: {first_line(error)} Nothing of this "
                "was stored. Check who may read and write it, and the folder that it is in."
            ) from error
        raise


@contextmanager
def reached(path: Path) -> Iterator[None]:
    """Turn what the system says of the place of a store into a sentence."""
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"The store {path} cannot be reached: {error.strerror}. Check the path and who may "
            "read and write it."
        ) from error


def is_there(path: Path) -> bool:
    """Tell whether there is a file.

    Raises
    ------
    StoreError
        If this account of the machine may not look.
    """
    with reached(path):
        return path.exists()


def missing(path: Path) -> StoreMissing:
    """Return the error that there is no store."""
    return StoreMissing(
        f"There is no store at {path}. Import efforts or add a person to make one, or name "
        "another file."
    )


def too_new(path: Path, version: int, newest: int) -> StoreTooNew:
    """Return the error that this program is too old for a store."""
    return StoreTooNew(
        f"The store {path} has schema {version} and this program knows schemas up to "
        f"{newest}. Nothing was changed. Update the program."
    )


def _identity(path: Path) -> tuple[int, int, int] | None:
    """Tell a file from others: a file that is gone leaves its number to the next, not its time."""
    try:
        status = path.stat()
    except OSError:
        return None  # why it cannot be opened is said on opening it
    return status.st_dev, status.st_ino, status.st_ctime_ns


def _says(error: duckdb.Error, *words: str) -> bool:
    return any(word in str(error) for word in words)


def first_line(error: duckdb.Error) -> str:
    """Give what an error says first, as a sentence."""
    return str(error).splitlines()[0].rstrip(".") + "."


def _busy_elsewhere(path: Path, wait: Wait, error: duckdb.Error) -> StoreBusy:
    return StoreBusy(
        f"The store {path} is held by {_holder(error)}, and did not come free within "
        f"{wait.seconds:g} seconds. Nothing was changed. Wait until that work is done, or end "
        "it, and try again."
    )


def _holder(error: duckdb.Error) -> str:
    found = re.search(r"PID (\d+)", str(error))
    return f"process {found[1]}" if found else "another process"


def busy_here(path: Path, wait: Wait) -> StoreBusy:
    """Say that this process itself did not let go of the store in time."""
    return StoreBusy(
        f"Other work of this program on the store {path} did not end within {wait.seconds:g} "
        "seconds. Nothing was changed. Wait a moment and try again."
    )


def _unreadable(path: Path, error: duckdb.Error) -> StoreError:
    if _says(error, "Trying to read a database file with version"):
        return StoreTooNew(
            f"The file {path} was written by another version of DuckDB than this program has. "
            "Nothing was changed. Update the program."
        )
    if _says(error, "Permission denied", "No such file", "Is a directory", "Read-only file"):
        return StoreError(
            f"The store {path} cannot be opened: {first_line(error)} Check the path and who "
            "may read and write it."
        )
    return _damaged(path, error)


def _damaged(path: Path, error: duckdb.Error) -> StoreDamaged:
    return StoreDamaged(
        f"The file {path} cannot be read as a store: {first_line(error)} Nothing was changed. "
        f"Keep it and {path.name}.wal beside it as they are, and restore the last backup "
        "to a new file."
    )
