"""How the tests sit at a screen: browser, sizes, signing in, waiting, measuring, pictures."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

from dashboard.screen.menu import OWN, PLACES
from dashboard.serving.gate import OWN_PATH, SESSION_COOKIE
from db.file.store import Store
from tests.dashboard.conftest import add_routine_sessions, fill, new_store
from tests.dashboard.live_server import LiveServer, serving
from tests.patience import PATIENCE_SECONDS

BROWSER_WORDS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PICTURES = Path(__file__).parents[2] / "screenshots"
PHONE_AGENT = (
    "Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 (KHTML, like Gecko)"
    " Chrome/130 Mobile Safari/537.36"
)
SIZES = {"desktop": (1280, 900), "tablet": (820, 1180), "phone": (390, 844)}
TALLEST = 4000
SPARE: dict[Browser, dict[bool, list[Page]]] = {}
"""Unused windows, by whether they are a phone's; they have the program's scripts already."""
PATIENCE_MS = 1000 * PATIENCE_SECONDS
COUNT_RUNS = """
window.runs = 0;
new MutationObserver(changes => {
  for (const { target, oldValue } of changes)
    if (oldValue !== 'notRunning' && target.dataset.testScriptState === 'notRunning')
      window.runs += 1;
}).observe(document, {
  attributes: true, attributeFilter: ['data-test-script-state'], attributeOldValue: true,
  subtree: true,
});
"""
RUN_AGAIN = "([born, runs]) => performance.timeOrigin !== born || window.runs > runs"
RUN_IS_OVER = (
    "() => document.querySelector('[data-testid=stApp]')"
    "?.getAttribute('data-test-script-state') === 'notRunning'"
)
DRAWN = """() => document.querySelector('h1')
  && !document.querySelector('[data-testid=stSkeleton]')
  && [...document.querySelectorAll('[data-testid=stPlotlyChart]')].every(
    chart => chart.querySelector('.main-svg'))"""
"""Charts are drawn after a page's script has run, and not every page has one."""
SIZE_IS_KEPT = """() => new Promise(done => {
  let before = '', frames = 0;
  const look = () => {
    const main = document.querySelector('[data-testid=stMain]');
    const now = [innerWidth, innerHeight, main.scrollWidth, main.scrollHeight].join();
    frames = now === before ? frames + 1 : 0;
    before = now;
    frames < 10 ? requestAnimationFrame(look) : done();
  };
  look();
})"""


@contextmanager
def chromium() -> Iterator[Browser]:
    """Run Chromium: the system's if there is one, else the one that playwright installs."""
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=BROWSER_WORDS
        )
        expect.set_options(timeout=PATIENCE_MS)
        yield launched
        launched.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The module's own browser, which reuses its windows."""
    with chromium() as launched:
        SPARE[launched] = {}
        yield launched
        del SPARE[launched]


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Store:
    """The module's own store of the five artificial athletes."""
    store = new_store(tmp_path_factory.mktemp("club") / "club.duckdb")
    fill(store)
    add_routine_sessions(store)
    return store


@pytest.fixture(scope="module")
def server(club: Store) -> Iterator[LiveServer]:
    """A server of that store."""
    with serving(club.path) as running:
        yield running


@dataclass
class Screen:
    """A browser window that remembers every request it made."""

    page: Page
    address: str
    size: str
    hosts: set[str] = field(default_factory=set)
    errors: list[str] = field(default_factory=list)

    def open(self, path: str) -> float:
        """Open a page by its address and return the seconds until its script had run."""
        started = time.perf_counter()
        self.page.goto(f"{self.address}/{path}")
        self.wait()
        return time.perf_counter() - started

    def turn_to(self, title: str, heading: str, drawn: str | None = None) -> float:
        """Choose a page in the menu and return the seconds until all of it is done.

        Its heading shows, its script has run, and what `drawn` selects is on the screen.
        """
        link = shown_link(self.page, title)
        started = time.perf_counter()
        link.click()
        self.page.locator("h1", has_text=heading).wait_for()
        self.wait()
        if drawn is not None:
            self.page.locator(drawn).first.wait_for()
        return time.perf_counter() - started

    def wait(self) -> None:
        self.page.wait_for_function(RUN_IS_OVER)

    @contextmanager
    def run_again(self) -> Iterator[None]:
        """Wait after the block until the page's script has run once more."""
        before = self.page.evaluate("() => [performance.timeOrigin, window.runs]")
        yield
        self.page.wait_for_function(RUN_AGAIN, arg=before)
        self.wait()

    def text(self) -> str:
        return self.page.locator("[data-testid=stMain]").inner_text().replace("\u00a0", " ")

    def settle(self) -> None:
        """Wait until the script has run, all is drawn, and the page keeps its size."""
        self.wait()
        self.page.wait_for_function(DRAWN)
        self.page.evaluate(SIZE_IS_KEPT)

    def sideways(self) -> int:
        """Return how many pixels wider than the window the page is, without inner scroll areas."""
        return int(
            self.page.evaluate(
                "() => Math.max(document.documentElement.scrollWidth,"
                " document.querySelector('[data-testid=stMain]').scrollWidth) - innerWidth"
            )
        )

    @contextmanager
    def resized(self, size: str) -> Iterator[None]:
        """Look at the same page on another of `SIZES` inside the block."""
        own = self.size
        self._resize(size)
        self.settle()
        yield
        self._resize(own)

    def _resize(self, size: str) -> None:
        self.size = size
        width, height = SIZES[size]
        self.page.set_viewport_size({"width": width, "height": height})

    def take(self, name: str, folder: Path | None = None) -> None:
        """Take a picture of the whole page, into `PICTURES` if no folder is named."""
        width, height = SIZES[self.size]
        whole = self.page.evaluate(
            "() => document.querySelector('[data-testid=stMain]').scrollHeight"
        )
        self.page.set_viewport_size({"width": width, "height": min(max(height, whole), TALLEST)})
        self.settle()
        self.page.screenshot(path=(folder or PICTURES) / f"{name}-{self.size}.png")
        self.page.set_viewport_size({"width": width, "height": height})


def shown_link(page: Page, title: str) -> Locator:
    """Open the menu if needed, and return the link to the page.

    The menu leads to the first page of a group; links on that page lead to the others.
    """
    place = next(place for place in PLACES if place.title == title)
    sibling = page.locator(".st-key-siblings").get_by_role("link", name=title, exact=True)
    if sibling.is_visible():
        return sibling
    entry = menu_entry(page, title if place.group == OWN else place.group)
    first = next(each for each in PLACES if each.group == place.group)
    if place.group == OWN or place == first:
        return entry
    entry.click()
    page.wait_for_function(RUN_IS_OVER)
    expect(sibling.or_(page.locator("h1", has_text=title))).to_be_visible()
    return sibling if sibling.is_visible() else menu_entry(page, place.group)


def menu_entry(page: Page, label: str) -> Locator:
    """Open the menu if needed, and return one of its links."""
    narrow = page.get_by_test_id("stExpandSidebarButton")
    if narrow.is_visible():
        narrow.click()
        return page.get_by_test_id("stSidebar").get_by_role("link", name=label, exact=True)
    menu = page.get_by_test_id("stTopNav")
    shown = menu.get_by_role("link", name=label, exact=True)
    if shown.is_visible():
        return shown
    menu.get_by_test_id("stTopNavSection").click()
    return page.get_by_role("menuitem", name=label, exact=True)


@contextmanager
def screen(
    browser: Browser, server: LiveServer, name: str, size: str, scheme: str = "light"
) -> Iterator[Screen]:
    """Open a person's start page on a screen of one of `SIZES`.

    Athletes start on a page without script; for them, this goes on to the first Streamlit page.
    """
    with window(browser, server, size, scheme) as seen:
        seen.page.context.add_cookies(
            [{"name": SESSION_COOKIE, "value": session_cookie(server, name), "url": server.address}]
        )
        seen.page.goto(server.address)
        if seen.page.url.endswith(OWN_PATH):
            seen.page.goto(f"{server.address}/my-warm-up")
        seen.wait()
        yield seen


@cache
def session_cookie(server: LiveServer, name: str) -> str:
    """Sign in once per person, because the server limits attempts."""
    with server.signed_in(name) as client:
        return client.cookies[SESSION_COOKIE]


@contextmanager
def window(
    browser: Browser, server: LiveServer, size: str, scheme: str = "light"
) -> Iterator[Screen]:
    """Open a browser window that nobody has signed in to."""
    spare = SPARE.get(browser, {}).setdefault(size == "phone", [])
    page = spare.pop() if spare else new_page(browser, size == "phone")
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    seen = Screen(page, server.address, size)
    seen._resize(size)
    heard: dict[Any, Callable[..., None]] = {
        "request": lambda request: seen.hosts.add(urlsplit(request.url).hostname or "local"),
        "websocket": lambda socket: seen.hosts.add(urlsplit(socket.url).hostname or "local"),
        "pageerror": lambda error: seen.errors.append(str(error)),
    }
    for event, hear in heard.items():
        page.on(event, hear)
    yield seen
    for event, hear in heard.items():
        page.remove_listener(event, hear)
    if browser in SPARE and page.url.startswith(server.address):
        emptied(page)
        spare.append(page)
    else:
        page.context.close()


def new_page(browser: Browser, phone: bool) -> Page:
    width, height = SIZES["phone" if phone else "desktop"]
    context = browser.new_context(
        viewport={"width": width, "height": height},  # also for pages that it opens
        locale="en-GB",
        reduced_motion="reduce",  # a spinner takes half a processor
        user_agent=PHONE_AGENT if phone else None,
        is_mobile=phone,
        has_touch=phone,
    )
    context.set_default_timeout(PATIENCE_MS)
    context.add_init_script(COUNT_RUNS)
    return context.new_page()


def emptied(page: Page) -> None:
    """Clear everything in a window but the program's files."""
    for other in page.context.pages:
        if other is not page:
            other.close()
    page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    page.context.clear_cookies()
    page.goto("about:blank")
