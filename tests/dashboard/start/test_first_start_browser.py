"""Starting a new club by clicking: from `serve` without a store to the ranked squad."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from db.file.checks import check
from db.file.store import Store
from db.fits.results import responses
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import browser as browser  # the fixture
from tests.dashboard.screens import shown_link, window

MOST_CLICKS = 25
"""Including clicks that only go to a field, and those in the window that opens for a file."""

NAMES = [
    f"{first} {last}"
    for first in ("Ana", "Eva", "Ida", "Mia", "Noa")
    for last in ("Berg", "Costa", "Duval", "Horvat", "Lind")
]
ONE_TEST = (40, 41, 42, 43, 43.5, 43, 42.5, 42, 41, 38, 37, 36)
"""A fade test that goes on until three in a row are well below the best."""

PASSWORD = "kettle-lamp-orchard"


class Hand:
    """The mouse of a new user: every click counts, even one that only goes to a field."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.clicks = 0

    def click(self, what: Locator) -> None:
        self.clicks += 1
        what.click()

    def button(self, name: str) -> None:
        self.click(self.page.get_by_role("button", name=name, exact=True))

    def link(self, name: str) -> None:
        self.click(self.page.get_by_role("link", name=name).first)

    def type(self, label: str, text: str) -> None:
        field = self.page.locator("input, textarea").and_(self.page.get_by_label(label)).first
        self.click(field)
        field.fill(text)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A store that does not exist yet; `serve` makes it."""
    return Store(tmp_path / "club.duckdb")


@pytest.fixture
def server(store: Store) -> Iterator[LiveServer]:
    with serving(store.path, WARMCURVE_FIT_AFTER="0") as running:
        yield running


def season() -> str:
    """A squad's season as somebody notes it: names, days without a time, two tests each."""
    first = date(2026, 2, 2)
    rows = ["Player,Date,Jump (cm),Rep#"]
    for place, name in enumerate(NAMES):
        peak = 4 + place % 12
        for week in (0, 1):
            for rep in range(1, 19):
                value = 40 + place % 7 - 0.03 * (rep - peak) ** 2 + (rep * 7 + week * 3) % 5 / 10
                rows.append(f"{name},{first + timedelta(days=7 * week)},{value:.1f},{rep}")
    return "\n".join(rows) + "\n"


def sign_up(hand: Hand, server: LiveServer) -> None:
    code = re.search(r"set-up code: (\S+)", server.log.read_text())
    assert code is not None
    hand.page.goto(server.address)
    hand.type("Set-up code", code[1])
    hand.type("Your name", "Dora Director")
    hand.type("Sign-in name", "dora")
    hand.type("Password", PASSWORD)
    hand.button("Make the account and sign in")


def first_steps(hand: Hand) -> None:
    hand.type("Your club or team", "Test Club")
    hand.button("Save it")
    hand.click(hand.page.get_by_text("Jump height: cm, more is better"))
    hand.button("Begin with this")
    hand.type("how many efforts does the team do", "8")
    hand.button("Save it")


def test_a_file_of_a_season_becomes_the_ranked_squad(
    browser: Browser, server: LiveServer, store: Store
) -> None:
    with window(browser, server, "desktop", "light") as seen:
        hand = Hand(seen.page)
        sign_up(hand, server)
        first_steps(hand)
        hand.link("They are in my file: import it")
        hand.clicks += 2  # the button that opens the file window, and the file in it
        file = {"name": "season.csv", "mimeType": "text/csv", "buffer": season().encode()}
        seen.page.locator("input[type=file]").set_input_files([file])
        hand.click(seen.page.get_by_text("new athletes: add them"))
        hand.click(seen.page.get_by_text("Tests to the end"))
        hand.click(seen.page.get_by_label("hour, At what time of day were they?"))
        seen.page.keyboard.type("1000")
        seen.page.keyboard.press("Enter")
        hand.click(seen.page.locator(".st-key-store_efforts button"))
        expect(seen.page.get_by_text("900 saved")).to_be_visible()
        ranked(hand)
        assert hand.clicks <= MOST_CLICKS
    assert len(responses(store, "jump_height")) == len(NAMES) and check(store) == []


def test_names_on_paper_and_a_test_run_live_become_the_ranked_squad(
    browser: Browser, server: LiveServer, store: Store
) -> None:
    with window(browser, server, "tablet", "light") as seen:
        hand = Hand(seen.page)
        sign_up(hand, server)
        first_steps(hand)
        hand.type("Names", "\n".join(NAMES))
        hand.button("Add them")
        hand.link("Run a test now")
        hand.click(seen.page.get_by_role("combobox", name="Athletes, in the order of turns"))
        seen.page.keyboard.type("Ana Berg")
        seen.page.keyboard.press("Enter")
        seen.page.keyboard.press("Escape")
        hand.click(seen.page.get_by_text("No pain", exact=True))
        hand.click(seen.page.get_by_text("I confirm"))
        hand.button("Begin the test")
        for number, value in enumerate(ONE_TEST, start=1):
            field = seen.page.get_by_label(f"Ana Berg, effort {number}, in cm")
            expect(field).to_be_focused()
            seen.page.keyboard.type(str(value))
            seen.page.keyboard.press("Enter")
        expect(seen.page.get_by_text("Stop, Ana Berg")).to_be_visible()
        hand.click(seen.page.get_by_role("button", name="End the test of Ana Berg").first)
        expect(seen.page.get_by_text("Efforts to fade")).to_be_visible()
        ranked(hand)
        assert hand.clicks <= MOST_CLICKS
    assert len(responses(store, "jump_height")) == len(NAMES) and check(store) == []


def ranked(hand: Hand) -> None:
    """Go to the squad, and wait until its ranking is there without pressing anything more."""
    hand.click(shown_link(hand.page, "Squad"))
    expect(hand.page.get_by_role("heading", name="Who needs which length")).to_be_visible()
