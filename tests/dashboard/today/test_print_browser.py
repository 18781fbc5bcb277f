"""From signing in to the printed sheet in a real browser, and how many clicks that takes."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Download, Locator

from tests.dashboard.conftest import PASSWORD
from tests.dashboard.game.test_game import text_of
from tests.dashboard.live_server import LiveServer
from tests.dashboard.screens import browser as browser  # the fixtures
from tests.dashboard.screens import club as club
from tests.dashboard.screens import server as server
from tests.dashboard.screens import window

MOST_CLICKS = 6


@dataclass
class Clicks:
    """Clicks that are counted."""

    done: int = 0

    def __call__(self, target: Locator) -> None:
        target.click()
        self.done += 1


def printed(download: Download) -> str:
    assert download.failure() is None
    return " ".join(text_of(download.path().read_bytes()))


@pytest.mark.parametrize(
    ("whistle", "length", "told"),
    [
        ("", "23", "Short: past the best by the standard"),
        ("23:59", "22", "first whistle 23:59"),
    ],
)
def test_a_changed_length_is_printed_in_few_clicks_and_again_in_one(
    browser: Browser, server: LiveServer, whistle: str, length: str, told: str
) -> None:
    with window(browser, server, "tablet") as seen:
        page, click = seen.page, Clicks()
        page.goto(server.address)
        page.get_by_role("textbox", name="Sign-in name").fill("carl")
        page.get_by_role("textbox", name="Password").fill(PASSWORD)
        click(page.get_by_role("button", name="Sign in"))
        if whistle:
            click(page.get_by_role("button", name="Change"))
            page.get_by_role("textbox", name="First whistle, or several").fill(whistle)
            page.keyboard.press("Enter")
            page.get_by_text("ready 23:54").first.wait_for()
            page.keyboard.press("Escape")
        click(page.get_by_role("textbox", name="Long One, efforts"))
        page.keyboard.type(length)
        # The press comes straight from the field, so the saving run also brings what was typed.
        with page.expect_download() as handed_over:
            click(page.get_by_role("button", name="Save and print"))
        sheet = printed(handed_over.value)
        assert told in sheet and "Long One" in sheet and f" {length} " in sheet
        assert click.done <= MOST_CLICKS
        page.get_by_text("5 athletes here. Saved.").wait_for()
        again = page.get_by_role("button", name="Print", exact=True)
        with page.expect_download() as handed_over:
            click(again)
        assert printed(handed_over.value) == sheet
        click(page.get_by_role("textbox", name="Long One, efforts"))
        page.keyboard.type("21")
        with page.expect_download() as handed_over:
            click(again)
        assert " 21 " in printed(handed_over.value)
        assert seen.errors == []
