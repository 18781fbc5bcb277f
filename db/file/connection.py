"""One open DuckDB file per process and path, counted by its users."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Hashable, Iterator
from contextlib import closing, contextmanager, suppress
from itertools import chain
from pathlib import Path

import duckdb

from db.errors import StoreReplaced
from db.file import migrations
from db.file.file_status import Stamp, place_of, stamp_of
from db.file.held_store import Seen, check_continues, gone, replaced, seen
from db.file.opening import (
    OpenFile,
    busy_here,
    connect,
    is_there,
    missing,
    reached,
    too_new,
    translated,
)
from db.file.waits import Wait

# A waiting process tries the file at least every 0.05 seconds, so the pause lets it in.
LONGEST_STREAK_SECONDS, PAUSE_SECONDS = 0.5, 0.08


class SharedFile:
    """The connection of this process to one store file, open while somebody uses it.

    Never open the file in another way in this process: closing any other handle on it
    would drop DuckDB's lock.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.write_turn = threading.Lock()
        self._turn = threading.Condition(threading.Lock())
        self._root: OpenFile | None = None
        self._users = 0
        self._keepers: set[object] = set()
        self._ready: dict[Hashable, list[duckdb.DuckDBPyConnection]] = {}
        self._own = threading.local()
        self._streak_began = self._closed_at = 0.0
        self._writes = 0
        self._remembered: tuple[Stamp, Seen] | None = None
        self._place: tuple[int, int] | None = None
        self._held: Seen | None = None

    def hold(self, wait: Wait) -> None:
        """Open only this store from now on, and refuse another file in its place."""
        with self._taking_turn(wait):
            root = self._root or self._open(wait)
            self._held = seen(root.main)
            if self._root is None:
                root.close()

    def check_place(self) -> None:
        """Check that the open file is still in its place; otherwise writes would be lost.

        Raises
        ------
        StoreReplaced
            If there is another file, or none.
        """
        if self._place != place_of(self.path):
            raise StoreReplaced(
                f"Another file, or none, is in the place of the store {self.path} since it was "
                "opened. Nothing of this was stored. Put the right file back and try again."
            )

    @contextmanager
    def cursor(self, wait: Wait, give_way: bool = True) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a new cursor; the file closes when its last user leaves.

        With `give_way`, this waits if units of work have overlapped for long, to let other
        processes in.
        """
        root = self._enter(wait, give_way)
        unharmed = False
        try:
            with translated(self.path), root.cursor() as cursor:
                yield cursor
            unharmed = True
        finally:
            self._leave(unharmed)

    @contextmanager
    def ready_cursor(
        self, wait: Wait, kind: Hashable, prepare: Callable[[duckdb.DuckDBPyConnection], None]
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a prepared cursor, one from an earlier unit of work if the file stayed open."""
        root = self._enter(wait, give_way=True)
        ready = self._ready.setdefault(kind, [])
        cursor, unharmed = None, False
        try:
            with translated(self.path):
                try:
                    cursor = ready.pop()
                except IndexError:
                    cursor = root.cursor()
                    prepare(cursor)
                yield cursor
            unharmed = True
        finally:
            if cursor is not None and unharmed:
                ready.append(cursor)
            elif cursor is not None:
                cursor.close()
            self._leave(unharmed)

    @contextmanager
    def kept_open(self) -> Iterator[None]:
        """Keep the file open between units of work, as long as the streak is short."""
        keeper = object()
        self._keepers.add(keeper)
        try:
            yield
        finally:
            with self._turn:
                self._keepers.discard(keeper)
                if not self._users and not self._keepers:
                    self._close()

    @contextmanager
    def alone(self, wait: Wait) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a connection that may touch other files, while nobody else has the store."""
        with self._taking_turn(wait):
            while self._users:
                if not self._turn.wait(wait.left):
                    raise busy_here(self.path, wait)
            self._close()
            with closing(self._open(wait, external_access=True)) as root, translated(self.path):
                yield root.main

    def create(self, wait: Wait) -> None:
        """Make the file, readable by its owner only, with the newest schema."""
        with self._taking_turn(wait):
            if self._users or is_there(self.path):
                return
            if self._held is not None:
                raise gone()
            with reached(self.path):
                self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with closing(connect(self.path, wait, external_access=True)) as root:
                self.path.chmod(0o600)
                with translated(self.path):
                    migrations.upgrade(root.main, self.path)

    def schema(self, wait: Wait) -> int:
        """Return the schema version of the file as it is, without upgrading it."""
        with self._taking_turn(wait):
            if self._root is not None:
                return migrations.newest()
            if not is_there(self.path):
                raise missing(self.path)
            file = connect(self.path, wait, external_access=False)
            with closing(file), translated(self.path):
                return migrations.version(file.main, self.path)

    def state(self, wait: Wait) -> Seen:
        """Return the state of the store, from memory if the file has not changed since."""
        stamp = self._stamp()
        if self._remembered is not None and self._remembered[0] == stamp:
            return self._remembered[1]
        writes = self._writes
        with self.cursor(wait) as cursor:
            state = seen(cursor)
        # A write of this process that came in between may or may not be in `state`.
        if writes == self._writes:
            self._remembered = (stamp, state)
        return state

    def written(self) -> None:
        """Forget the remembered state after a commit."""
        self._writes += 1
        self._remembered = None

    def _stamp(self) -> Stamp:
        return stamp_of(self.path), stamp_of(Path(f"{self.path}.wal"))

    def _enter(self, wait: Wait, give_way: bool) -> OpenFile:
        depth = getattr(self._own, "depth", 0)
        with self._taking_turn(wait):
            # A thread that already has the file must not wait for itself.
            while not depth and self._root is not None and self._streak_is_long():
                if not self._users:
                    self._close()
                elif not give_way:
                    break
                elif not self._turn.wait(wait.left):
                    raise busy_here(self.path, wait)
            if self._root is not None and not self._users and self._place != place_of(self.path):
                self._close()
            if self._root is not None:
                self.check_place()
            else:
                self._pause()
                self._root = self._open(wait)
            self._users += 1
            self._own.depth = depth + 1
            return self._root

    def _leave(self, unharmed: bool) -> None:
        with self._turn:
            self._users -= 1
            self._own.depth -= 1
            # An error may have spoilt the connection, so the next user gets a new one.
            if not self._users and not (self._keepers and unharmed):
                self._close(unharmed)
            self._turn.notify_all()

    def _close(self, unharmed: bool = True) -> None:
        if self._root is not None:
            for cursor in chain.from_iterable(self._ready.values()):
                cursor.close()
            self._ready.clear()
            if self._held is not None:
                with suppress(duckdb.Error):  # an error may have spoilt the connection
                    self._held = seen(self._root.main)
            self._root.close(unharmed)
            self._root = None
            self._closed_at = time.monotonic()

    def _streak_is_long(self) -> bool:
        return time.monotonic() - self._streak_began > LONGEST_STREAK_SECONDS

    def _pause(self) -> None:
        """Leave the file closed for a moment if it has long been reopened without a break."""
        pause = self._closed_at + PAUSE_SECONDS - time.monotonic()
        if pause > 0 and self._streak_is_long():
            time.sleep(pause)
        if pause <= 0 or self._streak_is_long():
            self._streak_began = time.monotonic()

    @contextmanager
    def _taking_turn(self, wait: Wait) -> Iterator[None]:
        if not wait.take(self._turn, "Other work has the store."):
            raise busy_here(self.path, wait)
        try:
            yield
        finally:
            self._turn.release()

    def _open(self, wait: Wait, external_access: bool = False) -> OpenFile:
        if not is_there(self.path):
            if self._held is not None:
                raise gone()
            raise missing(self.path)
        root = connect(self.path, wait, external_access)
        try:
            with translated(self.path):
                version = migrations.version(root.main, self.path)
            if version > migrations.newest():
                raise too_new(self.path, version, migrations.newest())
            if self._held is not None:
                if version < migrations.newest():
                    raise replaced("It is an older copy, or another store.")
                self._held = check_continues(root.main, self._held)
            self._place = place_of(self.path)
        except BaseException:
            root.close()
            raise
        if version == migrations.newest():
            return root
        root.close()
        self._upgrade(wait)
        return self._open(wait, external_access)

    def _upgrade(self, wait: Wait) -> None:
        file = connect(self.path, wait, external_access=True)
        with closing(file), translated(self.path):
            migrations.upgrade(file.main, self.path)


_files: dict[Path, SharedFile] = {}
_files_turn = threading.Lock()


def shared_file(path: Path) -> SharedFile:
    """Return this process's one shared file for a resolved path."""
    with _files_turn:
        return _files.setdefault(path, SharedFile(path))


def current_revision(cursor: duckdb.DuckDBPyConnection) -> int:
    """Return the revision that a cursor sees, including its own uncommitted write."""
    row = cursor.execute("SELECT coalesce(max(revision), 0) FROM audit").fetchone()
    return int(row[0]) if row else 0
