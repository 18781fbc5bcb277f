"""How commands speak: sentences on standard error, results on standard output."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.events import tell
from dashboard.core.failures import (
    debugging,
    failure_sentences,
    known_problem,
    log_failure,
    number_of,
)

if TYPE_CHECKING:
    from db.file.store import Store

Progress = Callable[[float, str], None]
StoreFile = Annotated[
    Path | None,
    typer.Option(
        "--db",
        metavar="FILE",
        readable=False,  # the store has its own message for this
        help="The store; without it WARMCURVE_DB, else a file in your data folder.",
    ),
]


def sentences_of(error: Exception) -> str:
    """Return what to say about a failure.

    A fault's traceback is logged, but at a terminal only if the operator asked for details.
    """
    if problem := known_problem(error):
        return problem[1]
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}. Check the name and who may read and write it."
    stopped = partial(failure_sentences, "this command", "Run it again.")
    if sys.stderr.isatty() and not debugging():
        return stopped(number_of(error), "with WARMCURVE_DEBUG=1 set, it is explained here")
    return stopped(log_failure(error))


def say(sentence: str) -> None:
    """Say a sentence to the person at the terminal."""
    tell(sentence)


def user() -> str:
    """Return who runs the command, for the trail of who did what."""
    try:
        return f"{getpass.getuser()} (command line)"
    except (KeyError, OSError):
        return "command line"


def store_at(path: Path | None) -> Store:
    """Return the store that was named, else the usual one."""
    from db.file.store import Store, default_path

    return Store(path or default_path())


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Yield a callback for the share done and what is being done; drawn on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda share, what: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda share, what: bar.update(task, completed=share, description=what)
