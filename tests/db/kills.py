"""Work on a store in its own process, which waits or is killed at a named step."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from signal import SIGKILL, pause

from db.backup.copying import backup, restore
from db.file import migrations
from db.file.copies import keep_newest
from db.file.frames import fetch
from db.file.rewriting import Rewrite, rewrite
from db.file.store import Store
from db.fits.exports import write_export
from tests.forked import forked

PASSPHRASE = "plain words for a test"


def _restore(store: Store, folder: Path) -> None:
    (sealed,) = folder.glob("warmcurve-*")
    restore(sealed, store.path.with_name("restored.duckdb"), PASSPHRASE)


def _bring_up(store: Store, folder: Path) -> None:
    migrations.SCHEMA_FOLDER = folder
    store.revision()


def _export(store: Store, folder: Path) -> None:
    with store.reading() as cursor:
        write_export(fetch(cursor, "FROM athlete"), folder / "athletes.csv")


WORKS: dict[str, Callable[[Store, Path], object]] = {
    "backup": backup,
    "encrypted backup": lambda store, folder: backup(store, folder, PASSPHRASE),
    "restore": _restore,
    "rewrite": lambda store, _: rewrite(store, "dora", lambda root: Rewrite("anew", "", {})),
    "bringing up": _bring_up,
    "export": _export,
    "keeping the newest": lambda _, folder: keep_newest(folder, 0),
}


@contextmanager
def stopped(work: str, step: str, store: Path, folder: Path) -> Iterator[None]:
    """Pause a process at a step of its work for the `with` block, then kill it.

    Parameters
    ----------
    work : str
        One of `WORKS`.
    step : str
        `before` or `after`, and the full name of a function as its caller sees it.
    store, folder : Path
        The arguments of the work.
    """
    process, reached = _started(work, step, store, folder)
    assert reached.recv() == step
    yield
    process.kill()
    process.join()
    assert process.exitcode == -SIGKILL


def killed(work: str, step: str, store: Path, folder: Path) -> None:
    """Kill a process at a step of its work."""
    with stopped(work, step, store, folder):
        pass


def done(work: str, store: Path, folder: Path) -> None:
    """Let a process do its work to the end."""
    process = _started(work, "", store, folder)[0]
    process.join()
    assert process.exitcode == 0


def _started(work: str, step: str, store: Path, folder: Path) -> tuple[BaseProcess, Connection]:
    here, there = forked().Pipe(duplex=False)
    given = (work, step, store, folder, there)
    process = forked().Process(target=_work, args=given, daemon=True)
    process.start()
    there.close()
    return process, here


def _work(work: str, step: str, store: Path, folder: Path, reached: Connection) -> None:
    os.umask(0o022)
    if step:
        _stop_at(step, reached)
    WORKS[work](Store(store), folder)


def _stop_at(step: str, reached: Connection) -> None:
    when, _, name = step.partition(" ")
    module = import_module(name.rpartition(".")[0])
    function = getattr(module, name.rpartition(".")[2])

    def stop(*args: object, **named: object) -> object:
        result = function(*args, **named) if when == "after" else None
        reached.send(step)
        pause()  # until it is killed
        return result

    setattr(module, name.rpartition(".")[2], stop)
