"""Pages broken on purpose: they show a sentence and a number, and the rest still works."""

from __future__ import annotations

import re
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
import streamlit as st
from streamlit import config
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.local_script_runner import LocalScriptRunner

from dashboard.core import events, failures
from dashboard.frame.broken_pages import show_script_error
from dashboard.live_test import keys, screen
from dashboard.screen.menu import PLACES, file_of
from db.efforts.live_tests import open_tests
from db.errors import StoreBusy
from db.file.store import Store
from modeling.errors import ModelError
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.live_test.test_run_test import started

PAGES = sorted(place.script for place in PLACES)
SECRET = "Name of Somebody"


@pytest.fixture
def log(monkeypatch: pytest.MonkeyPatch) -> StringIO:
    """Collect what is logged; unlike pytest's own capture, this outlives the test."""
    log = StringIO()
    monkeypatch.setattr(events, "sys", SimpleNamespace(stderr=log))
    return log


def logged(log: StringIO, number: str) -> bool:
    """Tell whether a fault is in the log: a dated line with its number, and its traceback."""
    dated = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\S+"
    return bool(re.search(rf"(?m){dated} Fault {number}\nTraceback ", log.getvalue()))


@pytest.fixture(autouse=True)
def served(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make pages handle errors as they do on the server."""
    made = LocalScriptRunner.__init__

    def make(runner: LocalScriptRunner, *args: Any, **more: Any) -> None:
        made(runner, *args, **more)
        runner._on_script_error = show_script_error

    monkeypatch.setattr(LocalScriptRunner, "__init__", make)
    monkeypatch.setattr(failures, "_logged_at", {})
    config.set_option("logger.enableRich", False)


def broken(*_: object, **__: object) -> None:
    raise KeyError(SECRET)


def number_on(application: AppTest) -> str:
    """Return the number of the one fault that the page reports."""
    [shown] = [*application.error, *application.toast]
    found = re.search(r"[Ff]ault (\d{6})", shown.value)
    assert found, shown.value
    assert "Everything saved is safe. Check your last entry, then try again." in shown.value
    assert SECRET not in told(application) + shown.value
    assert not application.exception
    return found[1]


def test_every_broken_page_shows_the_fault_number_that_is_in_the_log(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch, log: StringIO
) -> None:
    of_athlete = sign_in(filled_store, "long.one", "about")
    of_director = sign_in(filled_store, "dora", "about")
    monkeypatch.setattr(st, "title", broken)
    numbers = set()
    for page in PAGES:
        application = of_athlete if page == "my_warm_up" else of_director
        application.switch_page(file_of(page)).run()
        number = number_on(application)
        assert logged(log, number), page
        assert file_of(page) in log.getvalue() and SECRET not in log.getvalue()
        assert "Signed in as" in told(application)
        numbers.add(number)
    assert len(numbers) == len(PAGES)


def test_a_broken_page_can_be_tried_again(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch, log: StringIO
) -> None:
    application = sign_in(filled_store, "dora", "about")
    with monkeypatch.context() as patch:
        patch.setattr(st, "title", broken)
        application.run()
    assert logged(log, number_on(application))
    [again] = application.button
    assert again.label == "Try again"
    again.click().run()
    assert application.title[0].value == "About" and not application.error


def test_a_broken_part_that_runs_by_itself_says_so_in_its_own_place(
    unfitted_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    monkeypatch.setattr(screen, "_show_chart", broken)
    page.run()
    assert number_on(page)
    assert [metric.label for metric in page.metric][:1] == ["Last, of 0"]


def test_a_click_that_breaks_says_so_and_leaves_the_page_as_it_was(
    unfitted_store: Store,
    sign_in: SignIn,
    monkeypatch: pytest.MonkeyPatch,
    log: StringIO,
) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    [session] = open_tests(unfitted_store)["session_id"]
    with monkeypatch.context() as patch:
        patch.setattr(keys, "end_test", broken)
        page.button(key=f"end_{session}").click().run()
    number = number_on(page)
    assert logged(log, number)
    assert page.metric and "Signed in as" in told(page)
    page.button(key=f"end_{session}").click().run()
    assert open_tests(unfitted_store).empty
    assert not page.toast and not page.error


@pytest.mark.parametrize(
    ("problem", "sentence"),
    [
        (StoreBusy("Another program has the store."), "Another program has the store."),
        (ModelError("Two athletes are not enough."), "Two athletes are not enough."),
        (OSError(28, "No space left on device"), "There is no room left on the disk."),
    ],
)
def test_an_expected_error_is_shown_in_its_own_words_and_not_logged(
    unfitted_store: Store,
    sign_in: SignIn,
    problem: Exception,
    sentence: str,
    monkeypatch: pytest.MonkeyPatch,
    log: StringIO,
) -> None:
    def refuse(*_: object) -> None:
        raise problem

    application = sign_in(unfitted_store, "dora", "about")
    monkeypatch.setattr(st, "title", refuse)
    application.run()
    [shown] = application.error
    assert sentence in shown.value and "ault" not in shown.value
    assert "Fault" not in log.getvalue()


def test_the_same_fault_has_one_number_and_is_not_logged_every_time(
    monkeypatch: pytest.MonkeyPatch, log: StringIO
) -> None:
    def number(why: str, lines: str = "") -> str:
        try:
            exec(f"{lines}raise KeyError({why!r})")
        except KeyError as error:
            return failures.log_failure(error)
        raise AssertionError

    first = number("one value")
    assert number("another value") == first != number("one value", lines="\n")
    assert log.getvalue().count(f"Fault {first}\n") == 1
    monkeypatch.setattr(failures, "LOGGED_AGAIN_SECONDS", 0.0)
    number("one value")
    assert log.getvalue().count(f"Fault {first}\n") == 2
