"""When others have the store: people are told who has it, and the wait is bounded."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from dashboard.app import command_line
from dashboard.app.command_line import application as commands
from dashboard.core import plain_commands
from db.file import waits
from db.file.store import Store
from db.file.waits import telling_of_waits
from tests.benchmarks.many_at_once import many_at_once
from tests.dashboard.conftest import signed_in_application
from tests.held_store import Holder, held
from tests.patience import PATIENCE_SECONDS

pytestmark = pytest.mark.usefixtures("closed_in_between")


@pytest.fixture
def holder(filled_store: Store) -> Iterator[Holder]:
    """Start another process that has the store until it is told to let go."""
    with held(filled_store.path) as holder:
        yield holder


@pytest.fixture(autouse=True)
def said_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waits, "SAID_AFTER_SECONDS", 0.05)


def test_a_wait_for_another_process_is_said_once_with_who_has_the_store(
    filled_store: Store, holder: Holder
) -> None:
    told = []

    def tell(sentence: str) -> None:
        told.append(sentence)
        holder.let_go()

    with telling_of_waits(tell), filled_store.reading() as cursor:
        assert cursor.execute("SELECT count(*) FROM athlete").fetchone() == (5,)
    expected = f"The store is held by process {holder.pid}. This waits for it, 15 seconds at most."
    assert told == [expected]
    with telling_of_waits(tell), filled_store.reading():
        assert told == [expected]


def test_a_command_says_that_it_waits(
    filled_store: Store, holder: Holder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def say(sentence: str) -> None:
        said.append(sentence)
        if "waits for it" in sentence:
            holder.let_go()

    said: list[str] = []
    monkeypatch.setattr(plain_commands, "say", say)
    monkeypatch.setattr(command_line, "say", say)
    shown = CliRunner().invoke(commands, ["check", "--db", str(filled_store.path)])
    assert shown.exit_code == 0
    assert said == [
        f"The store is held by process {holder.pid}. This waits for it, 15 seconds at most.",
        "No faults found.",
    ]


def test_work_without_end_gives_way_to_another_process(filled_store: Store) -> None:
    """Threads whose reads overlap could keep the file open between them for ever."""
    end = threading.Event()
    errors: list[Exception] = []

    def read_again_and_again() -> None:
        try:
            while not end.is_set():
                with filled_store.reading():
                    end.wait(0.05)
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=read_again_and_again) for _ in range(4)]
    for thread in threads:
        thread.start()
    with held(filled_store.path):
        pass
    end.set()
    for thread in threads:
        thread.join()
    assert errors == []


@pytest.fixture
def freed_when_shown(monkeypatch: pytest.MonkeyPatch) -> list[Holder]:
    """Processes that let the store go as soon as a page shows that it waits for them."""
    holders: list[Holder] = []
    show = st.toast

    def show_and_free(sentence: str, duration: int) -> None:
        show(sentence, duration=duration)
        holders.pop().let_go()

    monkeypatch.setattr(st, "toast", show_and_free)
    return holders


def test_a_page_says_that_it_waits_and_then_shows_what_it_was_asked_for(
    filled_store: Store, freed_when_shown: list[Holder], request: pytest.FixtureRequest
) -> None:
    application = signed_in_application(filled_store, "carl")
    holder = request.getfixturevalue("holder")
    filled_store.path.touch()  # so that the page has to ask again
    freed_when_shown.append(holder)
    application.run()
    assert f"held by process {holder.pid}" in application.toast[0].value
    assert application.title[0].value == "Today" and not application.exception
    application.run()
    assert not application.toast


def test_a_callback_that_runs_before_the_page_says_that_it_waits(
    filled_store: Store, freed_when_shown: list[Holder], request: pytest.FixtureRequest
) -> None:
    def page() -> None:
        import streamlit as st

        from dashboard.screen.web_sessions import running_store
        from dashboard.serving.waiting_notice import show_waits

        show_waits()
        st.button("Save", on_click=lambda: running_store().revision())

    application = AppTest.from_function(page, default_timeout=PATIENCE_SECONDS).run()
    holder = request.getfixturevalue("holder")
    freed_when_shown.append(holder)
    application.button[0].click().run()
    assert f"held by process {holder.pid}" in application.toast[0].value


def test_a_wait_for_another_write_of_this_program_is_said(filled_store: Store) -> None:
    told, inside, end = [], threading.Event(), threading.Event()

    def write() -> None:
        with filled_store.writing("test", "hold"):
            inside.set()
            end.wait(PATIENCE_SECONDS)

    def tell(sentence: str) -> None:
        told.append(sentence)
        end.set()

    thread = threading.Thread(target=write)
    thread.start()
    inside.wait(PATIENCE_SECONDS)
    with telling_of_waits(tell), filled_store.writing("test", "next"):
        pass
    thread.join()
    assert told == [
        "Another write to the store is under way. This waits for it, 15 seconds at most."
    ]


def test_nothing_is_lost_when_many_work_at_once(tmp_path: Path) -> None:
    seen = many_at_once(tmp_path, browsers=2, seconds=4, file_rows=200)
    assert (seen.errors, seen.failed) == ([], [])
    assert (seen.lost, seen.doubled, seen.problems) == (0, 0, 0)
    assert len(seen.acknowledged) >= 2 and seen.imports >= 1 and seen.fits >= 1
