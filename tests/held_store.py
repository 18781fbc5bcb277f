"""A store that another process holds open until the test ends that process."""

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
    """The process that holds the store, and our end of the pipe; closing it ends the process."""

    process: BaseProcess
    pipe: Connection

    @property
    def pid(self) -> int:
        assert self.process.pid is not None
        return self.process.pid

    def let_go(self) -> None:
        """End the process, and return when the store is free."""
        self.pipe.close()
        self.process.join()


@contextmanager
def held(path: Path) -> Iterator[Holder]:
    """Let another process hold the store until `let_go`, or until the block ends."""
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
