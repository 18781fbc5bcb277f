"""Others have the store: it is said who, the wait is bounded, and it ends in a sentence."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dashboard import command_line, terminal
from dashboard.command_line import application as commands
from db import waits
from db.errors import StoreBusy
from db.store import Store
from db.waits import telling_of_waits
from tests.benchmarks.many_at_once import many_at_once
from tests.dashboard.conftest import signed_in_application

HOLD = """
import sys
from db.store import Store
with Store(sys.argv[1]).reading():
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def holder(filled_store: Store) -> Iterator[subprocess.Popen[str]]:
    """Another process that has the store until its input ends."""
    words = [sys.executable, "-c", HOLD, str(filled_store.path)]
    pipe = subprocess.PIPE
    with subprocess.Popen(words, stdin=pipe, stdout=pipe, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process


@pytest.fixture(autouse=True)
def said_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waits, "SAID_AFTER_SECONDS", 0.05)


def let_go(holder: subprocess.Popen[str]) -> None:
    assert holder.stdin is not None
    holder.stdin.close()
    holder.wait()


def test_a_wait_for_another_process_is_said_once_with_who_has_the_store(
    filled_store: Store, holder: subprocess.Popen[str]
) -> None:
    told = []

    def tell(sentence: str) -> None:
        told.append(sentence)
        let_go(holder)

    with telling_of_waits(tell), filled_store.reading() as cursor:
        assert cursor.execute("SELECT count(*) FROM athlete").fetchone() == (5,)
    expected = f"The store is held by process {holder.pid}. This waits for it, 15 seconds at most."
    assert told == [expected]
    with telling_of_waits(tell), filled_store.reading():
        assert told == [expected]


def test_a_wait_ends_in_a_sentence(filled_store: Store, holder: subprocess.Popen[str]) -> None:
    store = Store(filled_store.path, wait_seconds=0.2)
    with pytest.raises(StoreBusy, match=f"held by process {holder.pid}, and did not.*0.2 seconds"):
        store.revision()


def test_a_command_says_that_it_waits(
    filled_store: Store, holder: subprocess.Popen[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def say(sentence: str) -> None:
        said.append(sentence)
        if "waits for it" in sentence:
            let_go(holder)

    said: list[str] = []
    monkeypatch.setattr(terminal, "say", say)
    monkeypatch.setattr(command_line, "say", say)
    shown = CliRunner().invoke(commands, ["check", "--db", str(filled_store.path)])
    assert shown.exit_code == 0
    assert said == [
        f"The store is held by process {holder.pid}. This waits for it, 15 seconds at most.",
        "No faults found.",
    ]


def test_work_without_end_gives_way_to_another_process(filled_store: Store) -> None:
    """Two threads whose reads overlap keep the file open between them for ever."""
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
    words = [sys.executable, "-c", HOLD, str(filled_store.path)]
    other = subprocess.run(words, input="", capture_output=True, text=True, check=False)
    end.set()
    for thread in threads:
        thread.join()
    assert (other.stdout, other.stderr, errors) == ("held\n", "", [])


def test_a_page_says_that_it_waits_and_then_shows_what_it_was_asked_for(
    filled_store: Store, request: pytest.FixtureRequest
) -> None:
    application = signed_in_application(filled_store, "carl")
    holder = request.getfixturevalue("holder")
    filled_store.path.touch()  # so that the page has to ask again
    threading.Timer(0.5, let_go, [holder]).start()
    application.run()
    assert f"held by process {holder.pid}" in application.toast[0].value
    assert application.title[0].value == "Before the session" and not application.exception
    application.run()
    assert not application.toast


def test_a_wait_for_another_write_of_this_program_is_said(filled_store: Store) -> None:
    told, inside, end = [], threading.Event(), threading.Event()

    def write() -> None:
        with filled_store.writing("test", "hold"):
            inside.set()
            end.wait(10)

    def tell(sentence: str) -> None:
        told.append(sentence)
        end.set()

    thread = threading.Thread(target=write)
    thread.start()
    inside.wait(10)
    with telling_of_waits(tell), filled_store.writing("test", "next"):
        pass
    thread.join()
    assert told == [
        "Another write to the store is under way. This waits for it, 15 seconds at most."
    ]


def test_nothing_is_lost_with_many_at_once(tmp_path: Path) -> None:
    seen = many_at_once(tmp_path, browsers=2, seconds=4, file_rows=200)
    assert (seen.errors, seen.failed) == ([], [])
    assert (seen.lost, seen.doubled, seen.problems) == (0, 0, 0)
    assert len(seen.acknowledged) >= 2 and seen.imports >= 1 and seen.fits >= 1
