"""A click that breaks in a part of a page that runs by itself: the screen stays as it was."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from playwright.sync_api import Browser, expect

from dashboard.live_test import keys
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.live_server import serving
from tests.dashboard.screens import browser as browser  # the fixture
from tests.dashboard.screens import screen

NAME = "Name of Somebody"


def broken(*_: object) -> None:
    raise KeyError(NAME)


def break_the_button() -> None:
    keys.end_test = broken


def test_accept_is_in_sight_and_a_broken_click_leaves_a_test_as_it_was(
    browser: Browser, tmp_path: Path
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store, fitted=False)
    tests = tuple(NewTest(code, {"pain": False}) for code in ("A1", "A2"))
    at = datetime(2026, 4, 1, 9)
    begin_live_test(
        store, NewLiveTest("jump_height", at, tests, Method("value"), StopRule(0.9, 3)), "carl"
    )
    with (
        serving(store.path, before=break_the_button) as server,
        screen(browser, server, "carl", "phone") as seen,
    ):
        seen.open("run-test?test=1")
        # Accept must be in sight even where the turns take a line of their own.
        accept = seen.page.get_by_role("button", name="Accept")
        expect(accept).to_be_in_viewport(ratio=1)
        seen.page.get_by_role("button", name="End the test of Long One").click()
        told = seen.page.get_by_text("not done. Everything saved is safe.")
        expect(told).to_be_visible()
        expect(seen.page.get_by_label("Long One, effort 1, in cm")).to_be_visible()
        assert seen.errors == []
    log = server.log.read_text()
    assert "raise KeyError(NAME)\nKeyError (WARMCURVE_DEBUG=1 logs what it says)" in log
    assert NAME not in log
