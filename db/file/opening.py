"""Open a store's DuckDB file, or say in a sentence why it would not open.

Starting DuckDB takes longer than opening a file, so an engine is started once for each file and
used again. It starts empty, and the file is attached to it. DuckDB 2.0 replays the log of a file
that it starts with before its functions are there, and fails on a change of schema that needs one.
"""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
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

MOST_IDLE = 4
"""How many idle engines wait to open their file again; a process has one or two stores."""

Settings = dict[str, str | bool | int | float | list[str]]

_idle: OrderedDict[Path, duckdb.DuckDBPyConnection] = OrderedDict()
_turn = threading.Lock()


class OpenFile:
    """A store's file, open and locked in this process.

    Parameters
    ----------
    path : Path
        The file; it is made if it is not there.
    external_access : bool
        Whether statements may touch other files.

    Raises
    ------
    duckdb.Error
        If it cannot be opened, or another process has it.
    """

    def __init__(self, path: Path, external_access: bool) -> None:
        self._path = path
        self._locked = not external_access
        with _turn:
            waiting = _idle.pop(path, None) if self._locked else None
        self._engine = waiting or _started(path, external_access)
        try:
            # The type is named because guessing another would ask for an extension.
            self._engine.execute(f"ATTACH {quoted(str(path), chr(39))} AS store (TYPE duckdb)")
            self.main = self.cursor()
        except BaseException:
            self._engine.close()
            raise

    def cursor(self) -> duckdb.DuckDBPyConnection:
        """Return one more connection to the file."""
        cursor = self._engine.cursor()
        cursor.execute("USE store")
        return cursor

    def close(self, unharmed: bool = False) -> None:
        """Close the file, and reuse the engine next time unless an error may have spoilt it."""
        self.main.close()
        try:
            self._engine.execute("DETACH store")
        except duckdb.Error:
            unharmed = False
        if not (unharmed and self._locked):
            self._engine.close()
            return
        with _turn:
            _idle[self._path] = self._engine
            spare = _idle.popitem(last=False)[1] if len(_idle) > MOST_IDLE else None
        if spare is not None:
            spare.close()


def _started(path: Path, external_access: bool) -> duckdb.DuckDBPyConnection:
    engine = duckdb.connect(config={**SETTINGS, "temp_directory": f"{path}.tmp"})
    engine.execute("SET GLOBAL TimeZone = 'UTC'")
    if not external_access:
        logs = [f"{path}.wal{kind}" for kind in ("", ".checkpoint", ".recovery")]
        engine.execute("SET GLOBAL allowed_paths = ?", [[str(path), *logs]])
        engine.execute("SET GLOBAL enable_external_access = false")
    engine.execute("SET GLOBAL lock_configuration = true")
    return engine


def quoted(name: str, quote: str) -> str:
    """Return a name or a text quoted for SQL."""
    return quote + name.replace(quote, quote * 2) + quote


def connect(path: Path, wait: Wait, external_access: bool) -> OpenFile:
    """Open a file for this process alone, waiting a bounded time for another process.

    Parameters
    ----------
    path : Path
        The file; DuckDB makes it if it is not there.
    wait : Wait
        How long to wait.
    external_access : bool
        Whether statements may touch other files.
    """
    while True:
        file_before = _identity(path)
        try:
            root = OpenFile(path, external_access)
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
            return root


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn DuckDB's errors about the file itself into plain sentences."""
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
    """Turn an operating system error about a store's path into a plain sentence."""
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"The store {path} cannot be reached: {error.strerror}. Check the path and who may "
            "read and write it."
        ) from error


def is_there(path: Path) -> bool:
    """Return whether the file is there.

    Raises
    ------
    StoreError
        If this user account may not look there.
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
    """Identify a file; a new one may reuse the inode of a removed one, but not its change time."""
    try:
        status = path.stat()
    except OSError:
        return None  # opening the file will say why
    return status.st_dev, status.st_ino, status.st_ctime_ns


def _says(error: duckdb.Error, *words: str) -> bool:
    return any(word in str(error) for word in words)


def first_line(error: duckdb.Error) -> str:
    """Return the first line of an error as a sentence."""
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
    """Return the error that this process itself did not free the store in time."""
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
