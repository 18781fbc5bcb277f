"""A click that breaks in a part of a page that runs by itself: nothing of the screen is lost."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from tests.dashboard import live_server
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.live_server import serving
from tests.dashboard.screens import browser as browser  # the fixture
from tests.dashboard.screens import screen

BROKEN = """
from dashboard.live_test import keys as round_keys
from dashboard.app.command_line import main

def broken(*_):
    raise KeyError("Name of Somebody")

round_keys.end_test = broken
main()
"""


def test_a_broken_click_leaves_the_screen_of_a_test_as_it_was(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store, fitted=False)
    test = NewTest("A1", {"pain": False})
    at = datetime(2026, 4, 1, 9)
    begin_live_test(
        store, NewLiveTest("jump_height", at, (test,), Method("value"), StopRule(0.9, 3)), "carl"
    )
    monkeypatch.setattr(live_server, "WARMCURVE", [sys.executable, "-c", BROKEN])
    with serving(store.path) as server, screen(browser, server, "carl", "phone") as seen:
        seen.open("run-test?test=1")
        seen.page.get_by_role("button", name="End the test of Long One").click()
        told = seen.page.get_by_text("not done. Everything saved is safe.")
        expect(told).to_be_visible()
        expect(seen.page.get_by_label("Long One, effort 1, in cm")).to_be_visible()
        assert seen.errors == []
    log = server.log.read_text()
    assert "in broken\nKeyError (WARMCURVE_DEBUG=1 logs what it says)" in log
    assert "Name of Somebody" not in log
