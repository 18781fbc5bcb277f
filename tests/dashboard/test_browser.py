"""The real server in a real browser: every role walks its pages on every screen."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

import dashboard
from dashboard.screen.menu import HOME, PLACES
from dashboard.serving.gate import OWN_PATH
from tests.dashboard import artificial
from tests.dashboard.accessibility import grave_findings
from tests.dashboard.conftest import PASSWORD, fill, new_store
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import RUN_IS_OVER, TALLEST, Screen, screen, window
from tests.dashboard.screens import browser as browser  # the fixture

ROLES = {"dora": "director", "carl": "coach", "long.one": "athlete"}


def pages_of(role: str) -> dict[str, str]:
    """Return the headings of a role's pages by address; the first page's address is empty."""
    own = [place for place in PLACES if role in place.roles]
    return {"" if place.script == HOME[role] else place.address: place.title for place in own}


FOLDER = Path(dashboard.__file__).parent
PAGES = {name: pages_of(role) for name, role in ROLES.items()} | {"untested": {"": "My warm-up"}}
SCHEMES = ("light", "dark")
TOLD_APART = {
    place.title
    for place in PLACES
    if place.script in HOME.values()
    or re.search(r"\bperson\.role\b|first_steps", (FOLDER / place.file).read_text())
}
"""Pages that may differ between a director and a coach who sees everybody."""
HEADING_LEVELS = """() => [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map(
  heading => Number(heading.tagName[1]))"""


@pytest.fixture(scope="module")
def live_squad(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """A running server with a squad of 26 athletes."""
    store = new_store(tmp_path_factory.mktemp("live") / "squad.duckdb")
    fill(store, athletes=artificial.many(26))
    with serving(store.path) as server:
        yield server


@pytest.fixture(scope="module")
def live_empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """A running server with nothing but accounts."""
    with serving(new_store(tmp_path_factory.mktemp("empty") / "empty.duckdb").path) as server:
        yield server


def check(seen: Screen, heading: str) -> None:
    expect(seen.page.locator("h1")).to_have_text(heading)
    seen.settle()
    levels = seen.page.evaluate(HEADING_LEVELS)
    assert all(lower - upper <= 1 for upper, lower in pairwise([0, *levels])), levels
    assert seen.sideways() <= 0
    assert seen.errors == []
    assert seen.hosts <= {"127.0.0.1", "local"}
    for trouble in ("stException", "stAlertContentError"):
        assert seen.page.locator(f"[data-testid={trouble}]").count() == 0


def walk(
    browser: Browser, server: LiveServer, name: str, size: str, scheme: str, headings: Iterable[str]
) -> None:
    with screen(browser, server, name, size, scheme) as seen:
        for heading in headings:
            seen.turn_to(heading, heading)
            check(seen, heading)
            assert grave_findings(seen.page) == [], heading
            if size == "desktop":
                with seen.resized("tablet"):
                    check(seen, heading)


@pytest.mark.parametrize(
    ("name", "size", "scheme"),
    [
        ("dora", "desktop", "light"),
        ("carl", "phone", "dark"),
        *(("long.one", size, scheme) for size in ("desktop", "phone") for scheme in SCHEMES),
        ("untested", "phone", "light"),
    ],
)
def test_every_role_walks_its_pages(
    live_squad: LiveServer, browser: Browser, name: str, size: str, scheme: str
) -> None:
    walk(browser, live_squad, name, size, scheme, PAGES[name].values())


@pytest.mark.parametrize(
    ("name", "other", "size", "scheme"),
    [
        ("dora", "carl", "phone", "dark"),
        ("carl", "dora", "desktop", "dark"),
    ],
)
def test_pages_that_staff_do_not_share_are_checked_on_the_other_screen_too(
    live_squad: LiveServer, browser: Browser, name: str, other: str, size: str, scheme: str
) -> None:
    """Pages that both share were already checked once on each screen by the test above."""
    shared = {*PAGES[other].values()} - TOLD_APART
    own = [heading for heading in PAGES[name].values() if heading not in shared]
    walk(browser, live_squad, name, size, scheme, own)


def test_every_page_of_an_empty_store_says_what_to_do_next(
    live_empty: LiveServer, browser: Browser
) -> None:
    with screen(browser, live_empty, "dora", "phone") as seen:
        for heading in PAGES["dora"].values():
            seen.turn_to(heading, heading)
            check(seen, heading)
            assert grave_findings(seen.page) == [], heading


def test_a_click_on_a_dot_opens_the_athlete(live_squad: LiveServer, browser: Browser) -> None:
    with screen(browser, live_squad, "dora", "desktop") as seen:
        dot = seen.page.locator(".scatterlayer .point").first
        dot.wait_for()
        # Plotly lays a sheet over its marks, and the sheet takes the clicks.
        dot.click(force=True)
        expect(seen.page.locator("h1")).to_have_text("Athlete")
        seen.wait()
        assert "Warm up longer: still getting better at 15" in seen.text()
        # The first mark drawn is the one on top.
        opened = seen.page.get_by_role("combobox", name="Athlete")
        expect(opened).to_have_value("Long One")
        seen.turn_to("Squad", "Squad")
        expect(seen.page.locator("h1")).to_have_text("Squad")


def test_a_phone_gets_the_picture_that_fits(live_squad: LiveServer, browser: Browser) -> None:
    for size, label in (("phone", "L. One"), ("tablet", "Long One")):
        with screen(browser, live_squad, "dora", size) as seen:
            seen.page.locator(".scatterlayer .point").first.wait_for()
            assert label in seen.page.locator(".ytick text").all_text_contents()


def test_a_click_on_a_row_opens_the_athlete(live_squad: LiveServer, browser: Browser) -> None:
    with screen(browser, live_squad, "dora", "desktop") as seen:
        table = seen.page.locator("[data-testid=stDataFrame]").first
        seen.page.get_by_text("All numbers").click()
        table.wait_for()
        seen.page.set_viewport_size({"width": 1280, "height": TALLEST})
        seen.settle()
        box = table.bounding_box()
        assert box is not None
        seen.page.mouse.click(box["x"] + 15, box["y"] + 35 + 17)
        expect(seen.page.locator("h1")).to_have_text("Athlete")
        seen.wait()
        expect(seen.page.get_by_role("combobox", name="Athlete")).to_have_value("Long One")


def test_a_link_to_an_athlete_opens_that_athlete(live_squad: LiveServer, browser: Browser) -> None:
    with screen(browser, live_squad, "carl", "tablet") as seen:
        seen.open("athlete?athlete=A2")
        assert "Stop sooner: past the best by 15" in seen.text()
        athlete = seen.page.get_by_role("combobox", name="Athlete")
        expect(athlete).to_have_value("Short Two")
        athlete.fill("Long")
        seen.page.get_by_role("option", name="Long One", exact=True).click()
        expect(seen.page).to_have_url(f"{seen.address}/athlete?athlete=A1")
        seen.turn_to("Advice for today", "Advice for today")
        expect(athlete).to_have_value("Long One")
        expect(seen.page).to_have_url(f"{seen.address}/advice?athlete=A1")
        seen.page.reload()
        expect(athlete).to_have_value("Long One")
        seen.wait()
        seen.page.go_back()
        if "/advice" in seen.page.url:
            # The menu first opened the page without a choice in its address. The browser may have
            # made that a step in its history; going back to it must not lead forward again.
            seen.wait()
            seen.page.go_back()
        expect(seen.page.locator("h1")).to_have_text("Athlete")
        expect(athlete).to_have_value("Long One")


def test_a_coach_plans_and_prints_without_leaving_the_page(
    live_squad: LiveServer, browser: Browser
) -> None:
    with screen(browser, live_squad, "carl", "tablet") as seen:
        with seen.page.expect_download() as printed:
            seen.page.get_by_role("button", name="Save and print").click()
        assert printed.value.path().read_bytes().startswith(b"%PDF-")
        with seen.page.expect_download() as printed:
            seen.page.get_by_role("button", name="Print", exact=True).click()
        assert printed.value.path().read_bytes().startswith(b"%PDF-")


def test_the_squad_of_a_session_fits_one_tablet_screen(
    live_squad: LiveServer, browser: Browser
) -> None:
    with screen(browser, live_squad, "carl", "tablet") as seen:
        seen.settle()
        rows = seen.page.locator("[data-place^='tick ']")
        expect(rows.last).to_be_in_viewport(ratio=1)
        last, below = rows.last.bounding_box(), seen.page.locator(".st-key-today_actions")
        actions = below.bounding_box()
        assert rows.count() == 26 and last and actions
        assert last["y"] + last["height"] <= actions["y"]


def test_a_coach_cannot_open_the_accounts_page(live_squad: LiveServer, browser: Browser) -> None:
    with screen(browser, live_squad, "carl", "desktop") as seen:
        answer = seen.page.goto(f"{seen.address}/accounts")
        assert answer and answer.status == 404
        told = seen.page.locator("body").inner_text()
        assert "No page for you here" in told
        assert "dora" not in told
        assert "Add an account" not in told


def test_the_menu_on_a_phone_closes_after_each_choice(
    live_squad: LiveServer, browser: Browser
) -> None:
    with screen(browser, live_squad, "dora", "phone") as seen:
        context, page = seen.page.context, seen.page

        def open_menu() -> None:
            page.get_by_test_id("stExpandSidebarButton").click()
            expect(menu(page)).to_be_in_viewport()

        open_menu()
        with context.expect_page() as opened:
            page.evaluate("() => window.open('/about')")
        closed(opened.value)
        page.reload()
        closed(page)
        open_menu()
        menu(page).get_by_role("link", name="Athletes", exact=True).click()
        expect(page.locator("h1")).to_have_text("Athlete")
        closed(page)
        page.reload()
        closed(page)


def menu(page: Page) -> Locator:
    return page.get_by_test_id("stSidebar")


def closed(page: Page) -> None:
    """Check that the page has its title and no menu lies over it."""
    page.locator("h1").wait_for()
    page.wait_for_function(RUN_IS_OVER)
    expect(page.get_by_test_id("stExpandSidebarButton")).to_be_visible()
    expect(menu(page)).not_to_be_in_viewport()


def test_signing_in_and_out_by_hand(live_squad: LiveServer, browser: Browser) -> None:
    with window(browser, live_squad, "phone") as seen:
        name = seen.page.get_by_role("textbox", name="Sign-in name")
        seen.page.goto(live_squad.address)
        assert grave_findings(seen.page) == []
        name.fill("long.one")
        seen.page.get_by_role("textbox", name="Password").fill(PASSWORD)
        seen.page.get_by_role("button", name="Sign in").click()
        expect(seen.page.locator("h1")).to_have_text("Long One")
        seen.page.get_by_role("button", name="Sign out").click()
        expect(name).to_be_visible()
        seen.page.goto(live_squad.address)
        expect(name).to_be_visible()


@pytest.mark.parametrize("size", ["phone", "desktop"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_page_without_script_is_small_and_for_everybody(
    live_squad: LiveServer, browser: Browser, size: str, scheme: str
) -> None:
    """It takes 60 KB at most in one request, with script switched on or off."""
    with screen(browser, live_squad, "long.one", size, scheme) as seen:
        cookies = seen.page.context.cookies()
        seen.page.goto("about:blank")  # so that the page before asks for nothing more
        asked: list[str] = []
        seen.page.on("request", lambda request: asked.append(request.url))
        answer = seen.page.goto(live_squad.address + OWN_PATH)
        assert answer is not None and len(answer.body()) <= 60_000
        expect(seen.page.locator("svg.curve")).to_have_count(1)
        assert [url for url in asked if not url.startswith("data:")] == [answer.url]
        wide = "() => document.documentElement.scrollWidth - innerWidth"
        assert seen.page.evaluate(wide) <= 0
        levels = seen.page.evaluate(HEADING_LEVELS)
        assert all(lower - upper <= 1 for upper, lower in pairwise([0, *levels])), levels
        assert grave_findings(seen.page) == []
        seen.page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert seen.page.evaluate(wide) <= 0, "twice as large, nothing is wider than the screen"
        shown = "() => document.querySelector('details:not([open]) li').checkVisibility()"
        assert not seen.page.evaluate(shown)
        seen.page.emulate_media(media="print")
        assert seen.page.evaluate(shown), "on paper nobody can open what is closed"
        expect(seen.page.locator("nav")).to_be_hidden()
        seen.page.emulate_media(media="screen")
    with browser.new_context(java_script_enabled=False) as plain:
        plain.add_cookies(cookies)
        page = plain.new_page()
        page.goto(live_squad.address + OWN_PATH)
        expect(page.get_by_text("Your length:")).to_be_visible()
        page.get_by_text("What the club keeps about you").click()
        expect(page.get_by_text("1 director may see all of it")).to_be_visible()
