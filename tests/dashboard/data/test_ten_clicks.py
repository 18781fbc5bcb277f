"""A spreadsheet as people bring it, in a real browser: right on the first try, clicks counted."""

from __future__ import annotations

from dataclasses import dataclass

from playwright.sync_api import Browser, FilePayload, Locator, expect

from db.efforts.rows import efforts
from db.file.store import Store
from tests.dashboard.accessibility import grave_findings
from tests.dashboard.live_server import LiveServer
from tests.dashboard.screens import Screen, menu_entry, screen
from tests.dashboard.screens import browser as browser  # the fixture
from tests.dashboard.screens import club as club
from tests.dashboard.screens import server as server

MOST_CLICKS = 8
INCHES = """Player,Date,Jump (in),Rep#
"One, Long",03/13/2025,15.5,1
"One, Long",03/13/2025,15.75,2
"Newcomer, Nell",03/27/2025,18.0,1
"""


@dataclass
class Hand:
    """Clicks and counts the clicks; typing does not count."""

    seen: Screen
    clicks: int = 0

    def click(self, target: Locator) -> None:
        self.clicks += 1
        target.click()

    def click_and_wait(self, target: Locator) -> None:
        with self.seen.run_again():
            self.click(target)

    def bring(self, name: str, content: str) -> None:
        """Press the button, and choose the file in the window of the system: two clicks."""
        place = self.seen.page.get_by_test_id("stFileUploader")
        with self.seen.page.expect_file_chooser() as opened:
            self.click(place.locator("button").first)
        self.clicks += 1
        file = FilePayload(name=name, mimeType="text/csv", buffer=content.encode())
        with self.seen.run_again():
            opened.value.set_files(file)


def test_a_file_of_american_dates_and_inches_is_saved_within_eight_clicks(
    club: Store, server: LiveServer, browser: Browser
) -> None:
    before = len(efforts(club, "jump_height"))
    with screen(browser, server, "dora", "desktop") as seen:
        page, hand = seen.page, Hand(seen)
        hand.click(menu_entry(page, "Data"))
        expect(page.locator("h1")).to_have_text("Import")
        seen.wait()
        hand.bring("inches.csv", INCHES)
        expect(page.get_by_text("is jump height in inches → cm")).to_be_visible()
        assert grave_findings(page) == []
        hand.click_and_wait(page.get_by_text("Tests to the end"))
        choose_time(hand, "At what time of day")
        name_newcomer(hand)
        seen.settle()
        assert "3 rows read. 3 to save" in seen.text()
        assert seen.sideways() <= 0
        hand.click_and_wait(page.get_by_role("button", name="Save this file"))
        expect(page.get_by_text("3 saved, 0 known already, 0 set aside")).to_be_visible()
        assert seen.errors == []
    assert hand.clicks <= MOST_CLICKS
    stored = efforts(club, "jump_height")
    assert len(stored) == before + 3
    new = stored[stored["started_at"].dt.year == 2025]
    assert new["value"].round(3).tolist() == [39.37, 40.005, 45.72]
    assert new["started_at"].dt.strftime("%m-%d %H:%M").tolist() == [
        "03-13 09:00",
        "03-13 09:00",
        "03-27 09:00",
    ]


def choose_time(hand: Hand, label: str) -> None:
    box = hand.seen.page.get_by_test_id("stTimeInput").filter(has_text=label)
    hand.click(box.get_by_role("spinbutton").first)
    with hand.seen.run_again():
        hand.seen.page.keyboard.type("0900")
        hand.seen.page.keyboard.press("Tab")


def name_newcomer(hand: Hand) -> None:
    page = hand.seen.page
    hand.click(page.get_by_role("combobox", name="Who is Newcomer, Nell?"))
    with hand.seen.run_again():
        page.keyboard.type("A new athlete")
        page.keyboard.press("Enter")
