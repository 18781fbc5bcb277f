"""A whole fade test from the keyboard alone, with the server killed in the middle of it."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from db.checks import check
from db.efforts import efforts
from db.running_tests import open_tests
from db.store import Store
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import Screen, screen
from tests.dashboard.screens import browser as browser  # the fixture


def type_efforts(page: Page, first: int, values: list[str]) -> None:
    for number, value in enumerate(values, start=first):
        field = page.get_by_label(f"Long One, effort {number}, in cm")
        expect(field).to_be_focused()
        page.keyboard.type(value)
        page.keyboard.press("Enter")


def tab_to(seen: Screen, role: str, name: str) -> None:
    """Go on with the Tab key to a field of the page, and no further than all round it."""
    wanted = seen.page.get_by_role(role, name=name)  # type: ignore[arg-type]
    wanted.wait_for()
    for _ in range(80):
        if wanted.evaluate("field => field === document.activeElement"):
            return
        seen.page.keyboard.press("Tab")
    raise AssertionError(f"The Tab key does not lead to {name}.")


def begin(seen: Screen) -> None:
    page = seen.page
    tab_to(seen, "combobox", "Athletes, in the order of turns")
    page.keyboard.type("Long One")
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    tab_to(seen, "radio", "No pain")
    page.keyboard.press("Space")
    seen.wait()
    tab_to(seen, "checkbox", "I confirm")
    page.keyboard.press("Space")
    seen.wait()
    tab_to(seen, "button", "Begin the test")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"test=1"))


def stored(store: Store) -> list[float]:
    rows = efforts(store, "jump_height", "A1")
    session = open_tests(store)["session_id"].iloc[0]
    return list(rows[rows["session_id"] == session]["value"])


def go_on(server: LiveServer, browser: Browser) -> None:
    """Pick the test up on another server, bring it to the stop, and read what it showed."""
    with screen(browser, server, "carl", "tablet") as seen:
        seen.open("run-test?test=1")
        type_efforts(seen.page, 4, ["35.5", "35,9", "36"])
        expect(seen.page.get_by_text("Stop, Long One: 35.5")).to_be_visible()
        seen.page.keyboard.press("Alt+e")
        expect(seen.page.get_by_text("Efforts to fade: 6.")).to_be_visible()
        expect(seen.page.get_by_text("Percentage decrement")).to_be_visible()
        assert seen.errors == []


def test_a_fade_test_by_keyboard_outlives_its_server(browser: Browser, tmp_path: Path) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store)
    with serving(store.path) as server, screen(browser, server, "carl", "tablet") as seen:
        seen.open("run-test")
        begin(seen)
        type_efforts(seen.page, 1, ["40", "41.2", "40.5"])
        field = seen.page.get_by_label("Long One, effort 4, in cm")
        expect(field).to_be_focused()
        server.process.kill()
        server.process.wait()
        seen.page.keyboard.type("35.5")
        seen.page.keyboard.press("Enter")
        expect(seen.page.get_by_text("Not stored yet: the server does not answer")).to_be_visible()
        expect(field).to_have_value("35.5")
        assert stored(store) == [40, 41.2, 40.5], "what was accepted, and not the one being typed"
    with serving(store.path) as server:
        go_on(server, browser)
    assert check(store) == []
