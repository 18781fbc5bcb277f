from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import duckdb
from platformdirs import user_data_path

from db.errors import BadInput, StoreBusy, StoreError
from db.file.connection import current_revision, shared_file
from db.file.held_store import Seen
from db.file.opening import is_there
from db.file.transactions import committed, record_write, roll_back, transaction
from db.file.waits import Wait


def default_path() -> Path:
    """Return the path of the store when the caller names none."""
    named = os.environ.get("WARMCURVE_DB")
    return Path(named) if named else user_data_path("warmcurve") / "warmcurve.duckdb"


class Store:
    """The file that holds everything, opened for one unit of work at a time.

    While one process has a DuckDB file open, no other can open it. So the file is opened
    only when it is needed, and closed afterwards. Units of work in one process share the
    open file; writes take turns.

    Parameters
    ----------
    path : Path or str
        The file. It need not exist yet.
    wait_seconds : float
        How long to wait for others before `StoreBusy` is raised.
    """

    def __init__(self, path: Path | str, wait_seconds: float = 15.0) -> None:
        self.path = Path(path).expanduser().resolve()
        self.wait_seconds = wait_seconds
        self._file = shared_file(self.path)
        self._cursor: duckdb.DuckDBPyConnection | None = None

    def exists(self) -> bool:
        """Return whether the file is there."""
        return is_there(self.path)

    def create(self) -> None:
        """Make the file with its tables and the built-in measures, unless it is there."""
        self._file.create(self._wait())

    def hold(self) -> None:
        """Refuse, in this process and from now on, any other file in the place of this store.

        Another store is refused, and so is a copy that lacks some of this store's writes, such as
        an older one. A file that continues this store is fine, as another process may have written
        to it. To serve a backup restored in place of this store, stop the process and start it
        again.
        """
        self._file.hold(self._wait())

    def schema(self) -> int:
        """Return the schema version of the file as it is, before its first use upgrades it."""
        return self._file.schema(self._wait())

    def revision(self) -> int:
        """Return the number of the last committed write; cheap while nothing has changed."""
        return self.state().revision

    def state(self) -> Seen:
        """Return what tells this state of the store from every other; as cheap as `revision`.

        Two stores that were at the same path may have the same number of writes and still differ.
        """
        return self._file.state(self._wait())

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a cursor that sees one state of the store and cannot write."""
        if self._cursor is not None:
            yield self._cursor
            return
        with self._reader() as cursor:
            cursor.execute("BEGIN TRANSACTION READ ONLY")
            try:
                yield cursor
            finally:
                roll_back(cursor)

    @contextmanager
    def at_one_state(self) -> Iterator[None]:
        """Let all readings inside see the same state, through one cursor.

        This holds for this object only. Use it from one thread, and write nothing with it inside:
        its readings would not see the write.
        """
        with self.reading() as cursor:
            self._cursor = cursor
            try:
                yield
            finally:
                self._cursor = None

    @contextmanager
    def writing(
        self, person: str, action: str, detail: str = ""
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a cursor whose work is stored as a whole, with one audit row, or not at all.

        Parameters
        ----------
        person : str
            Who writes.
        action, detail : str
            What is done, and to what, in a few words.
        """
        if not person.strip():
            raise BadInput("A write needs the name of the person who makes it.")
        wait = self._wait()
        with self._write_turn(wait), self._file.cursor(wait, give_way=False) as cursor:
            with transaction(cursor):
                revision = record_write(cursor, person, action, detail)
                yield cursor
                self._file.check_place()
            self._file.written()
            _confirm(cursor, revision)
        committed(person, action, revision)

    @contextmanager
    def noting(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a cursor whose work is stored as a whole, without an audit row or new revision.

        Use it only for what no cached answer depends on, such as who looked at what.
        """
        wait = self._wait()
        with (
            self._write_turn(wait),
            self._file.cursor(wait, give_way=False) as cursor,
            transaction(cursor),
        ):
            yield cursor
            self._file.check_place()

    @contextmanager
    def kept_open(self) -> Iterator[None]:
        """Open the file once for all units of work inside; other processes still get their turn."""
        with self._file.kept_open():
            yield

    @contextmanager
    def alone(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield the store's connection while no other unit of work runs, to copy it whole."""
        with self._file.alone(self._wait()) as root:
            yield root

    def _reader(self) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        """Return a cursor to read with."""
        return self._file.cursor(self._wait())

    def _wait(self) -> Wait:
        return Wait(self.wait_seconds)

    @contextmanager
    def _write_turn(self, wait: Wait) -> Iterator[None]:
        if not wait.take(self._file.write_turn, "Another write to the store is under way."):
            raise StoreBusy(
                f"Another write to the store {self.path} did not end within "
                f"{wait.seconds:g} seconds. Nothing of this was stored. Try again in a moment."
            )
        try:
            yield
        finally:
            self._file.write_turn.release()


def _confirm(cursor: duckdb.DuckDBPyConnection, revision: int) -> None:
    """Check the write: DuckDB commits an aborted transaction by silently rolling it back."""
    if current_revision(cursor) != revision:
        raise StoreError("Part of this write failed, so nothing was saved.")
