"""One open DuckDB file per process and path, counted by its users."""

from __future__ import annotations

import random
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from db import migrations
from db.errors import StoreBusy, StoreDamaged, StoreError, StoreMissing, StoreTooNew

# Trying to load an extension that is not there costs seconds, and none is needed.
SETTINGS = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "memory_limit": "2GB",
}
Stamp = tuple[tuple[int, int, int] | None, tuple[int, int, int] | None]


class SharedFile:
    """The connection of this process to one store file, open while somebody uses it.

    The file must never be opened by other means in this process: closing any other
    handle on it would drop DuckDB's lock.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.write_turn = threading.Lock()
        self._turn = threading.Condition(threading.Lock())
        self._root: duckdb.DuckDBPyConnection | None = None
        self._users = 0
        self._writes = 0
        self._remembered: tuple[Stamp, int] | None = None

    @contextmanager
    def cursor(self, wait: Wait) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a cursor of its own; the file closes when its last user leaves."""
        root = self._enter(wait)
        try:
            with translated(self.path), root.cursor() as cursor:
                yield cursor
        finally:
            self._leave()

    @contextmanager
    def alone(self, wait: Wait) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a connection that may touch other files, while nobody else has the store."""
        with self._taking_turn(wait):
            while self._users:
                if not self._turn.wait(wait.left):
                    raise _busy_here(self.path, wait)
            root = self._open(wait, external_access=True)
            try:
                with translated(self.path):
                    yield root
            finally:
                root.close()

    def create(self, wait: Wait) -> None:
        """Make the file, readable by its owner only, with the newest schema."""
        with self._taking_turn(wait):
            if self._users or self.path.exists():
                return
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            root = _connect(self.path, wait, external_access=True)
            try:
                self.path.chmod(0o600)
                with translated(self.path):
                    migrations.upgrade(root, self.path)
            finally:
                root.close()

    def revision(self, wait: Wait) -> int:
        """Give the revision, from memory where the file has not changed since."""
        stamp = self._stamp()
        if self._remembered is not None and self._remembered[0] == stamp:
            return self._remembered[1]
        writes = self._writes
        with self.cursor(wait) as cursor:
            revision = current_revision(cursor)
        # A write of this process that came in between may or may not be in `revision`.
        if writes == self._writes:
            self._remembered = (stamp, revision)
        return revision

    def written(self) -> None:
        """Forget the remembered revision after a commit."""
        self._writes += 1
        self._remembered = None

    def _stamp(self) -> Stamp:
        return _stamp_of(self.path), _stamp_of(Path(f"{self.path}.wal"))

    def _enter(self, wait: Wait) -> duckdb.DuckDBPyConnection:
        with self._taking_turn(wait):
            if self._root is None:
                self._root = self._open(wait)
            self._users += 1
            return self._root

    def _leave(self) -> None:
        with self._turn:
            self._users -= 1
            if self._users == 0 and self._root is not None:
                self._root.close()
                self._root = None
            self._turn.notify_all()

    @contextmanager
    def _taking_turn(self, wait: Wait) -> Iterator[None]:
        if not self._turn.acquire(timeout=wait.left):
            raise _busy_here(self.path, wait)
        try:
            yield
        finally:
            self._turn.release()

    def _open(self, wait: Wait, external_access: bool = False) -> duckdb.DuckDBPyConnection:
        if not self.path.exists():
            raise StoreMissing(
                f"There is no store at {self.path}. Import efforts or add a person to make one, "
                "or name another file."
            )
        root = _connect(self.path, wait, external_access)
        try:
            with translated(self.path):
                version = migrations.version(root, self.path)
            if version > migrations.newest():
                raise StoreTooNew(
                    f"The store {self.path} has schema {version} and this program knows schemas "
                    f"up to {migrations.newest()}. Nothing was changed. Update the program."
                )
        except BaseException:
            root.close()
            raise
        if version == migrations.newest():
            return root
        root.close()
        self._upgrade(wait)
        return self._open(wait, external_access)

    def _upgrade(self, wait: Wait) -> None:
        root = _connect(self.path, wait, external_access=True)
        try:
            with translated(self.path):
                migrations.upgrade(root, self.path)
        finally:
            root.close()


class Wait:
    """A bounded wait that begins when it is made."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self._until = time.monotonic() + seconds

    @property
    def left(self) -> float:
        """Seconds that are left, zero when the time is up."""
        return max(0.0, self._until - time.monotonic())


_files: dict[Path, SharedFile] = {}
_files_turn = threading.Lock()


def shared_file(path: Path) -> SharedFile:
    """Give the one shared file of this process for a resolved path."""
    with _files_turn:
        return _files.setdefault(path, SharedFile(path))


def current_revision(cursor: duckdb.DuckDBPyConnection) -> int:
    """Give the revision that a cursor sees: its own uncommitted write included."""
    row = cursor.execute("SELECT coalesce(max(revision), 0) FROM audit").fetchone()
    return int(row[0]) if row else 0


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
                f"The store {path} could not be written: {_first_line(error)} Nothing of this "
                "was stored. Make room on the disk and try again."
            ) from error
        raise


def _connect(path: Path, wait: Wait, external_access: bool) -> duckdb.DuckDBPyConnection:
    settings: dict[str, str | bool | int | float | list[str]] = {
        **SETTINGS,
        "enable_external_access": str(external_access).lower(),
    }
    while True:
        try:
            root = duckdb.connect(path, config=settings)
        except duckdb.Error as error:
            # The second wording is Windows's (from memory).
            if not _says(error, "Could not set lock", "used by another process"):
                raise _unreadable(path, error) from error
            if not wait.left:
                raise _busy_elsewhere(path, wait, error) from error
            time.sleep(random.uniform(0.005, 0.05))
        else:
            root.execute("SET GLOBAL TimeZone = 'UTC'")
            root.execute("SET GLOBAL lock_configuration = true")
            return root


def _stamp_of(path: Path) -> tuple[int, int, int] | None:
    try:
        status = path.stat()
    except FileNotFoundError:
        return None
    return status.st_ino, status.st_mtime_ns, status.st_size


def _says(error: duckdb.Error, *words: str) -> bool:
    return any(word in str(error) for word in words)


def _first_line(error: duckdb.Error) -> str:
    return str(error).splitlines()[0].rstrip(".") + "."


def _busy_elsewhere(path: Path, wait: Wait, error: duckdb.Error) -> StoreBusy:
    holder = re.search(r"PID (\d+)", str(error))
    who = f"process {holder[1]}" if holder else "another process"
    return StoreBusy(
        f"The store {path} is held by {who}, and did not come free within {wait.seconds:g} "
        "seconds. Nothing was changed. Wait until that work is done, or end it, and try again."
    )


def _busy_here(path: Path, wait: Wait) -> StoreBusy:
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
            f"The store {path} cannot be opened: {_first_line(error)} Check the path and who "
            "may read and write it."
        )
    return _damaged(path, error)


def _damaged(path: Path, error: duckdb.Error) -> StoreDamaged:
    return StoreDamaged(
        f"The file {path} cannot be read as a store: {_first_line(error)} Nothing was changed. "
        f"Keep it and {path.name}.wal beside it as they are, and restore the last backup "
        "to a new file."
    )
