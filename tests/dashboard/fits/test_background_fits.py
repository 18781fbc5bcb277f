"""The process that fits beside the pages: what it saves, what it says, and how it ends."""

from __future__ import annotations

import json
import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import pytest

from dashboard.app.demo import measures_to_fit
from dashboard.core.terminal import Progress
from dashboard.fits.background_fits import PATIENCE, FitStage, FittingProcess, fit_stage
from db.file.checks import check
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.fits.results import concluded, latest_fit
from tests.patience import PATIENCE_SECONDS

TASKS = Path("/proc/self/task")


class Terminal:
    """Notes the sentences and the shares done that a person at the terminal would see."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.shares: list[float] = []
        self._news = threading.Condition()

    def say(self, sentence: str) -> None:
        with self._news:
            self.said.append(sentence)
            self._news.notify_all()

    @contextmanager
    def progress_bar(self) -> Iterator[Progress]:
        def show(share: float, _what: str) -> None:
            with self._news:
                self.shares.append(share)
                self._news.notify_all()

        yield show

    def wait_for(self, happened: Callable[[], object]) -> None:
        """Wait until this has happened, looking whenever a sentence is said or a share is shown."""
        with self._news:
            assert self._news.wait_for(happened, PATIENCE_SECONDS)


pytestmark = pytest.mark.usefixtures("closed_in_between")


@pytest.fixture(autouse=True)
def _plain_main_module(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new process runs the main module; tests of pages leave a page as that module."""
    monkeypatch.setitem(sys.modules, "__main__", ModuleType("__main__"))


@pytest.fixture
def terminal() -> Terminal:
    return Terminal()


@pytest.fixture
def process(terminal: Terminal) -> Iterator[FittingProcess]:
    with FittingProcess(terminal.say, terminal.progress_bar) as running:
        yield running


def problem_of(measure: str) -> str:
    stage = fit_stage(measure)
    return stage.problem if stage else ""


def note_curves(store: Store, measure: str) -> None:
    there = concluded(store, measure)
    set_setting(store, "curves_of", f"{measure}, concluded: {there}", "test")


def note_priorities(store: Store, _measure: str) -> None:
    each = [os.getpriority(os.PRIO_PROCESS, int(task.name)) for task in TASKS.iterdir()]
    noted = {"with the store": os.getpriority(os.PRIO_PROCESS, 0), "most patient": max(each)}
    set_setting(store, "curves_of", json.dumps(noted), "test")


def test_a_fit_is_saved_and_announced_and_then_no_longer_under_way(
    unfitted_store: Store, terminal: Terminal, process: FittingProcess
) -> None:
    process.fit(unfitted_store.path, ["jump_height"], "test", note_curves)
    assert fit_stage("jump_height") == FitStage("jump_height")
    terminal.wait_for(lambda: terminal.shares[-1:] == [1.0])
    assert fit_stage("jump_height") is None
    assert concluded(unfitted_store, "jump_height")
    assert get_setting(unfitted_store, "curves_of") == "jump_height, concluded: False"
    assert terminal.shares == sorted(terminal.shares)
    assert terminal.said == ["Jump height is fitted."]


@pytest.mark.skipif(not TASKS.exists(), reason="Only Linux has priorities of threads.")
def test_only_the_thread_that_computes_stands_back(
    unfitted_store: Store, terminal: Terminal
) -> None:
    own = os.getpriority(os.PRIO_PROCESS, 0)
    with FittingProcess(terminal.say, terminal.progress_bar, stands_back=True) as process:
        process.fit(unfitted_store.path, ["jump_height"], "test", note_priorities)
        terminal.wait_for(lambda: terminal.shares[-1:] == [1.0])
    # The thread that has the store keeps its priority, so pages never wait longer for it.
    noted = json.loads(str(get_setting(unfitted_store, "curves_of")))
    assert noted == {"with the store": own, "most patient": max(own, PATIENCE)}


def test_a_fit_that_fails_is_told_in_a_sentence(
    empty_store: Store,
    terminal: Terminal,
    process: FittingProcess,
    capfd: pytest.CaptureFixture[str],
) -> None:
    process.fit(empty_store.path, ["jump_height"], "test")
    terminal.wait_for(lambda: problem_of("jump_height"))
    assert "A fit needs at least 10 efforts" in problem_of("jump_height")
    assert terminal.said == [problem_of("jump_height")]
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("asked_before", [True, False])
def test_a_process_that_is_killed_is_told_in_a_sentence(
    unfitted_store: Store, terminal: Terminal, process: FittingProcess, asked_before: bool
) -> None:
    [running] = multiprocessing.active_children()
    if asked_before:
        process.fit(unfitted_store.path, ["jump_height"], "test")
    running.kill()
    if not asked_before:
        running.join()
        process.fit(unfitted_store.path, ["jump_height"], "test")
    terminal.wait_for(lambda: problem_of("jump_height"))
    assert "stopped before it was finished. Nothing was changed." in problem_of("jump_height")
    assert terminal.said == [problem_of("jump_height")]
    assert latest_fit(unfitted_store, "jump_height") is None


def test_a_process_killed_once_the_curves_are_saved_leaves_them_to_be_concluded(
    unfitted_store: Store, terminal: Terminal, process: FittingProcess
) -> None:
    process.fit(unfitted_store.path, ["jump_height"], "test")
    terminal.wait_for(lambda: (stage := fit_stage("jump_height")) and stage.curves_kept)
    [running] = multiprocessing.active_children()
    running.kill()
    terminal.wait_for(lambda: problem_of("jump_height"))
    assert "The curves are saved, but the checks and" in problem_of("jump_height")
    assert latest_fit(unfitted_store, "jump_height") is not None
    assert not concluded(unfitted_store, "jump_height")
    assert "jump_height" in measures_to_fit(unfitted_store)
    assert check(unfitted_store) == []


def test_leaving_ends_the_process_and_says_nothing(
    unfitted_store: Store, terminal: Terminal
) -> None:
    with FittingProcess(terminal.say, terminal.progress_bar) as process:
        process.fit(unfitted_store.path, ["jump_height"], "test")
        [running] = multiprocessing.active_children()
    assert not running.is_alive()
    assert fit_stage("jump_height") is None
    assert terminal.said == []


def test_leaving_before_anything_is_asked_for_ends_it_too(terminal: Terminal) -> None:
    with (
        pytest.raises(KeyboardInterrupt, match="stopped"),
        FittingProcess(terminal.say, terminal.progress_bar),
    ):
        raise KeyboardInterrupt("stopped")
    assert multiprocessing.active_children() == []
