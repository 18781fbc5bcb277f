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
    """Give the path of the store when nobody names one."""
    named = os.environ.get("WARMCURVE_DB")
    return Path(named) if named else user_data_path("warmcurve") / "warmcurve.duckdb"


class Store:
    """The file that holds everything, opened for one unit of work at a time.

    A DuckDB file that one process has open is closed to every other, so nothing is
    opened before it is needed and nothing stays open after. Units of work of one
    process share the open file; writes take turns.

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
        """Say whether the file is there."""
        return is_there(self.path)

    def create(self) -> None:
        """Make the file with its tables and the built-in measures, unless it is there."""
        self._file.create(self._wait())

    def hold(self) -> None:
        """Take this store for the only one: this process refuses another file in its place.

        Another store is refused, and so is a copy that lacks something written to this one, as an
        older one does; one that continues it, as another process leaves it, is not. To serve a
        backup that was restored in place of this store, stop the process and start it again.
        """
        self._file.hold(self._wait())

    def schema(self) -> int:
        """Give the schema of the file as it is, which its first use brings to the newest."""
        return self._file.schema(self._wait())

    def revision(self) -> int:
        """Give the number of the last committed write; cheap while nothing has changed."""
        return self.state().revision

    def state(self) -> Seen:
        """Give what tells this state of the store from every other; as cheap as `revision`.

        Two stores that were at the same path have as many writes, perhaps, and are not the same.
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

        It is this object that reads so, which must be in the hands of one thread and write nothing
        meanwhile: it would not see it.
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
        """Yield a cursor whose work is stored as a whole, and leaves trail and revision alone.

        For what no answer that is remembered rests on, such as who looked at what.
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
        """Open the file once, not for each unit of work inside; others come to theirs as ever."""
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
    """Guard against DuckDB's commit of an aborted transaction: a silent roll-back."""
    if current_revision(cursor) != revision:
        raise StoreError("An error inside this write was passed over, and nothing was stored.")
