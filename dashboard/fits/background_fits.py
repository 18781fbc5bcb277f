"""Fits in a separate process, so that pages keep working while curves are worked out."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, replace
from importlib import import_module
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from dashboard.core.events import log_as_told, log_event, log_writes
from dashboard.core.failures import told_of
from dashboard.core.terminal import Progress

if TYPE_CHECKING:
    from dashboard.fits.fitting import Worked
    from db.file.store import Store

AfterCurves = Callable[["Store", str], None]
"""What to do once the curves of a measure are saved."""

LOADED_FIRST = (
    "dashboard.fits.fitting",
    "modeling.answers.response_model",
    "modeling.checks.data_checks",
    "modeling.day.next_test",
)
"""The modules a fit needs, loaded while the store is still being made."""

PAUSE_SECONDS = 10.0
"""Pause between two fits, so that the second does not slow the page that shows the first."""

PATIENCE = 10
"""Nice value of the computing thread once it lets the pages go first."""


@dataclass(frozen=True)
class FitStage:
    """How far the fit of a measure has got.

    Attributes
    ----------
    measure : str
        Code of the measure.
    share, what : float, str
        The share done, and what is being done.
    curves_kept : bool
        Whether the curves are saved and only what follows from them is still to come.
    problem : str
        What went wrong; empty if nothing did.
    """

    measure: str
    share: float = 0.0
    what: str = "Getting ready"
    curves_kept: bool = False
    problem: str = ""


_stages: dict[str, FitStage] = {}


def fit_stage(measure: str) -> FitStage | None:
    """Return how far the fit of a measure has got; None if none was asked for or it is done."""
    return _stages.get(measure)


def fits_under_way() -> list[FitStage]:
    """Return how far each running fit has got."""
    return [stage for stage in _stages.values() if not stage.problem]


def keep_problems(stages: Sequence[FitStage]) -> None:
    """Keep showing what went wrong after the process has ended, until the next fit."""
    _stages.update({stage.measure: stage for stage in stages})


def forget_problems() -> None:
    """Stop showing what went wrong."""
    for stage in list(_stages.values()):
        if stage.problem:
            del _stages[stage.measure]


class FittingProcess:
    """A process that loads the model at once and fits measures when asked to.

    Leaving its `with` block ends the process, whatever it is doing. That is safe: the store saves
    either all curves of a fit or none, and treats what follows from them in the same way
    (`db.fits.results.concluded`).

    Parameters
    ----------
    say : callable
        Takes each sentence for the person at the terminal.
    progress_bar : callable
        Opens the bar that shows that person the share done and what is being done.
    stands_back : bool
        Whether pages go first from the start, not only once there are curves to show.
    """

    def __init__(
        self,
        say: Callable[[str], None],
        progress_bar: Callable[[], AbstractContextManager[Progress]],
        stands_back: bool = False,
    ) -> None:
        self._say = say
        self._progress_bar = progress_bar
        self._ending = False
        self._measures: Sequence[str] = ()
        self._listener = Thread(target=self._listen, daemon=True)
        fresh = multiprocessing.get_context("spawn")
        self._pipe, self._its_end = fresh.Pipe()
        self._process = fresh.Process(target=_work, args=(self._its_end, stands_back), daemon=True)

    def __enter__(self) -> FittingProcess:
        self._process.start()
        self._its_end.close()
        return self

    def __exit__(self, *_: object) -> None:
        self._ending = True
        self._process.terminate()
        self._process.join()
        if self._listener.is_alive():
            self._listener.join()
        self._pipe.close()
        for measure in self._measures:
            _stages.pop(measure, None)

    @property
    def at_work(self) -> bool:
        """Whether a fit that was asked for is still running or being reported."""
        return self._listener.is_alive()

    def fit(
        self, store: Path, measures: Sequence[str], person: str, after: AfterCurves | None = None
    ) -> None:
        """Fit measures of a store one after the other, without waiting for them.

        The process calls `after` with the store and each measure whose curves are saved. It must
        be a module-level function, because the process has to import it.
        """
        self._measures = measures
        _stages.update({measure: FitStage(measure) for measure in measures})
        # If the process has already ended, the listener says so.
        with suppress(ConnectionError):
            self._pipe.send((store, list(measures), person, after))
        self._listener.start()

    def _listen(self) -> None:
        with self._progress_bar() as show:
            show(0.0, FitStage.what)
            for stage in self._messages():
                self._note(stage)
                show(stage.share, stage.what)
        self._process.join()
        if not self._ending:
            for stage in [each for each in _stages.values() if not each.problem]:
                self._note(replace(stage, problem=_ended_early(stage)))

    def _messages(self) -> Iterator[FitStage]:
        """Yield what the process reports, until it ends."""
        while True:
            try:
                yield self._pipe.recv()
            except (EOFError, ConnectionError):
                return

    def _note(self, stage: FitStage) -> None:
        _stages[stage.measure] = stage
        if stage.problem:
            self._say(stage.problem)
        elif stage.share == 1.0:
            del _stages[stage.measure]
            self._say(f"{stage.what}.")
            log_event("fitted", measure=stage.measure)


def _ended_early(stage: FitStage) -> str:
    kept = (
        "The curves are saved, but the checks and next tests are not."
        if stage.curves_kept
        else "Nothing was changed."
    )
    return (
        f"The fit of {stage.measure} stopped before it was finished. {kept} "
        "Work out the curves from the page, or run this again."
    )


def _work(orders: Connection, stands_back: bool) -> None:
    """Load the model, wait to be told what to fit, fit it, and report progress.

    Only the thread that computes lets the pages go first. If the whole process did, it would hold
    the store for long on a busy machine, and the pages would wait for it.
    """
    # Ctrl-C reaches this process too, but the one that started it ends both.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with ThreadPoolExecutor(1) as aside:
        if stands_back:
            aside.submit(_stand_back)
        list(aside.map(import_module, LOADED_FIRST))
        from db.file.store import Store

        try:
            path, measures, person, after = orders.recv()
            log_as_told()
            log_writes(Store(path))
            for number, measure in enumerate(measures):
                time.sleep(PAUSE_SECONDS if number else 0)
                _fit(Store(path), measure, person, orders, after, aside)
        except (EOFError, ConnectionError):
            return


def _fit(
    store: Store,
    measure: str,
    person: str,
    listener: Connection,
    after: AfterCurves | None,
    aside: Executor,
) -> None:
    from dashboard.fits.fitting import fit_measure

    stage = FitStage(measure)

    def tell(share: float, what: str) -> None:
        nonlocal stage
        stage = replace(stage, share=share, what=what)
        listener.send(stage)

    def curves_kept() -> None:
        nonlocal stage
        stage = replace(stage, curves_kept=True)
        listener.send(stage)
        if after is not None:
            after(store, measure)
        aside.submit(_stand_back)

    def work_out(what: Callable[[], Worked], /) -> Worked:
        return aside.submit(what).result()

    try:
        fit_measure(store, measure, person, tell, curves_kept, work_out=work_out)
    except ConnectionError:
        raise
    except Exception as error:
        problem = told_of(error, f"the fit of {measure}", "Work out the curves from the page.")
        listener.send(replace(stage, problem=problem))


def _stand_back() -> None:
    """Let the pages go before this thread, or before the whole process where that is the unit."""
    if hasattr(os, "setpriority"):
        with suppress(PermissionError):  # the process was started with a higher nice value
            os.setpriority(os.PRIO_PROCESS, 0, PATIENCE)
