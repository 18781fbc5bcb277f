"""Bring curves up to date automatically while the store is served."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from dashboard.core.failures import told_of
from dashboard.core.terminal import Progress
from dashboard.fits import background_fits
from dashboard.fits.background_fits import (
    FitStage,
    FittingProcess,
    fit_stage,
    fits_under_way,
)
from dashboard.fits.due_fits import Behind, due_fits
from db.efforts.live_tests import open_tests
from db.file.held_store import Seen
from db.file.store import Store

BY = "curves (by themselves)"
NAME = "curves by themselves"
LOOK_SECONDS = 1.0
TRIED_AGAIN_HOUR = 3
"""At this hour of the night, by this machine's clock, fits that failed are tried once more."""

LONGEST_TEST = timedelta(hours=3)
"""A test begun longer ago than this was left open, so no fit waits for it."""

_at_work = threading.Event()


def curves_come_by_themselves() -> bool:
    """Tell whether curves are brought up to date automatically."""
    return _at_work.is_set()


def start_own_accord(
    store: Store,
    say: Callable[[str], None],
    fit_after_seconds: float,
    look_seconds: float = LOOK_SECONDS,
) -> threading.Event:
    """Fit curves that are out of date once nothing new has come for a while.

    A fit runs in a separate process that lets pages go first. It does not begin while a test is
    being taken. A fit that failed is not tried again until something changes or a night passes.

    Parameters
    ----------
    store, say
        The store that is served, and what takes each sentence for the person at the terminal.
    fit_after_seconds, look_seconds : float
        How long to wait after the last change before a fit begins, and how often to check.

    Returns
    -------
    Event
        Set it to end this, together with a fit that is running.
    """
    stop = threading.Event()
    accord = OwnAccord(store, say, fit_after_seconds)

    def run() -> None:
        try:
            while not stop.is_set():
                accord.look(stop)
                stop.wait(look_seconds)
        finally:
            _at_work.clear()
            background_fits.forget_problems()

    _at_work.set()
    threading.Thread(target=run, name=NAME, daemon=True).start()
    return stop


class OwnAccord:
    """What is due, when that last changed, and what failed."""

    def __init__(self, store: Store, say: Callable[[str], None], after_seconds: float) -> None:
        self._store, self._say, self._after_seconds = store, say, after_seconds
        self._seen: Seen | None = None
        self._due: dict[str, Behind] = {}
        self._changed_at = 0.0
        self._failed: dict[str, Behind] = {}
        self._night = _night(datetime.now())
        self._said = ""

    def look(self, stop: threading.Event) -> None:
        """Check once and fit what is due; a problem is reported once and tried again."""
        problem = ""
        try:
            self._note_changes()
            if (codes := self._to_fit()) and not self._tests_run():
                self._fit(codes, stop)
        except Exception as error:
            why = told_of(error, "it", "It is tried again.")
            problem = f"The curves could not be brought up to date. {why}"
        if problem and problem != self._said:
            self._say(problem)
        self._said = problem

    def _note_changes(self) -> None:
        night = _night(datetime.now())
        if night != self._night:
            self._night, self._failed = night, {}
        state = self._store.state()
        if state == self._seen:
            return
        due = due_fits(self._store)
        if due != self._due:
            self._due, self._changed_at = due, time.monotonic()
        self._seen = state

    def _to_fit(self) -> list[str]:
        """Return what is due and has not failed in its present state, once nothing more comes."""
        if fits_under_way() or time.monotonic() - self._changed_at < self._after_seconds:
            return []
        return [code for code, why in self._due.items() if self._failed.get(code) != why]

    def _tests_run(self) -> bool:
        """Tell whether a test is being taken: it should have the machine to itself."""
        since = datetime.now(UTC) - LONGEST_TEST
        tests = open_tests(self._store)
        return any(begun_at >= since for begun_at in tests["begun_at"])

    def _fit(self, codes: list[str], stop: threading.Event) -> None:
        with FittingProcess(self._say, _no_bar, stands_back=True) as process:
            process.fit(self._store.path, codes, BY)
            while process.at_work and not stop.wait(0.1):
                pass
            problems = [stage for code in codes if (stage := _failed(code))]
        background_fits.keep_problems(problems)
        self._failed |= {stage.measure: self._due[stage.measure] for stage in problems}
        for code, why in due_fits(self._store).items():
            before = self._due.get(code)
            if before and not why.newer and replace(before, newer=0, fit_id=why.fit_id) == why:
                self._failed[code] = why  # this fit did not help, so another would not
        self._seen = None


def _failed(code: str) -> FitStage | None:
    stage = fit_stage(code)
    return stage if stage is not None and stage.problem else None


def _night(now: datetime) -> str:
    """Return a day that changes at `TRIED_AGAIN_HOUR` instead of midnight."""
    return f"{now - timedelta(hours=TRIED_AGAIN_HOUR):%Y-%m-%d}"


@contextmanager
def _no_bar() -> Iterator[Progress]:
    yield lambda share, what: None
