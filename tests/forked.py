"""Processes that tests start, forked from one that has already loaded what they all need.

A process that starts from nothing spends seconds loading the same thousand modules each time.
"""

from __future__ import annotations

import atexit
import multiprocessing
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from multiprocessing.context import ForkServerContext
from multiprocessing.process import BaseProcess
from pathlib import Path

import dashboard

PAGES = Path(dashboard.__file__).parent
LOADED = [
    "tests.db.kills",
    "tests.db.other_processes",
    "tests.held_store",
    "tests.benchmarks.crash",
    "streamlit.starlette",
    "uvicorn.lifespan.on",
    "uvicorn.protocols.http.h11_impl",
    "uvicorn.protocols.websockets.websockets_sansio_impl",
    "zxcvbn",
    *sorted(
        ".".join(["dashboard", *path.relative_to(PAGES).with_suffix("").parts])
        for path in PAGES.rglob("*.py")
        if not path.stem.endswith(("page", "router", "main", "__init__"))
    ),
]
"""All modules but pages and the application, which do something as soon as they are loaded."""


TEST_PROGRAM = sys.modules["__main__"]


def restore_main() -> None:
    """Give the program its main module back.

    AppTest leaves the page that it ran in its place, and a new process would run that page first.
    """
    sys.modules["__main__"] = TEST_PROGRAM


def forked() -> ForkServerContext:
    """Return the context that starts processes with everything loaded."""
    restore_main()
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__, *LOADED])
    return context


def started(work: Callable[..., object], *given: object) -> BaseProcess:
    """Start another process that does some work."""
    process = forked().Process(target=work, args=given)
    process.start()
    return process


def ended(process: BaseProcess) -> int | None:
    """Wait for a process to end, and return its exit code."""
    process.join()
    return process.exitcode


def command(
    words: Sequence[str],
    log: Path,
    environment: Mapping[str, str],
    before: Callable[[], None] | None = None,
) -> BaseProcess:
    """Start `warmcurve` with some arguments; its output goes to a file.

    Parameters
    ----------
    words, log, environment
        The arguments, the file for the output, and all environment variables it gets.
    before
        A module-level function, called before the command begins.
    """
    return started(_run, words, log, environment, before)


def _run(
    words: Sequence[str],
    log: Path,
    environment: Mapping[str, str],
    before: Callable[[], None] | None,
) -> None:
    from dashboard.app.command_line import main

    os.environ.clear()
    os.environ.update(environment)
    with log.open("wb") as output:
        for stream in (sys.stdout, sys.stderr):
            os.dup2(output.fileno(), stream.fileno())
    sys.argv = ["warmcurve", *words]
    if before is not None:
        before()
    try:
        main()
    finally:
        # An ordinary process calls these when it ends; one from multiprocessing does not.
        atexit._run_exitfuncs()
