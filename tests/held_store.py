"""A store that another process has, until the test lets it go."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from db.file.store import Store
from tests.forked import forked


@dataclass(frozen=True)
class Holder:
    """The process that has the store, and the end of the pipe that it waits for."""

    process: BaseProcess
    pipe: Connection

    @property
    def pid(self) -> int:
        assert self.process.pid is not None
        return self.process.pid

    def let_go(self) -> None:
        """End it, and return when the store is free."""
        self.pipe.close()
        self.process.join()


@contextmanager
def held(path: Path) -> Iterator[Holder]:
    """Let another process hold the store until it is let go, at the end of the block if not yet."""
    here, there = forked().Pipe()
    process = forked().Process(target=_hold, args=(path, there), daemon=True)
    process.start()
    there.close()
    assert here.recv() == "held"
    holder = Holder(process, here)
    yield holder
    holder.let_go()


def _hold(path: Path, told: Connection) -> None:
    with Store(path).reading():
        told.send("held")
        told.poll(None)  # until the other end is closed
