"""Signing in, staying signed in and signing out, in a real browser with several tabs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, BrowserContext, Page, expect

from db.file.store import Store
from db.people.accounts import set_role
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import LiveServer
from tests.dashboard.screens import PATIENCE_MS, RUN_IS_OVER, shown_link
from tests.dashboard.screens import browser as browser  # the fixtures
from tests.dashboard.screens import club as club
from tests.dashboard.screens import server as server

NEW_PASSWORD = "paddle quartz lantern"


@contextmanager
def browser_of(browser: Browser, server: LiveServer, name: str) -> Iterator[BrowserContext]:
    """Sign in by hand in a separate browser."""
    context = browser.new_context(base_url=server.address)
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto("/")
    enter(page, name, PASSWORD)
    yield context
    context.close()


def enter(page: Page, name: str, password: str) -> None:
    page.get_by_role("textbox", name="Sign-in name").fill(name)
    page.get_by_role("textbox", name="Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_function(RUN_IS_OVER)


def tab(context: BrowserContext, path: str, heading: str) -> Page:
    page = context.new_page()
    page.goto(path)
    page.wait_for_function(RUN_IS_OVER)
    expect(page.locator("h1")).to_have_text(heading)
    return page


def rerun(page: Page) -> None:
    """Do what makes the page's script run again: turn to another page in the menu."""
    shown_link(page, "Athlete").click()


def test_cookies_are_out_of_reach(server: LiveServer, browser: Browser) -> None:
    with browser_of(browser, server, "carl") as context:
        cookies = {cookie["name"]: cookie for cookie in context.cookies()}
        for name in ("warmcurve_session", "warmcurve_browser", "warmcurve_form"):
            assert cookies[name]["httpOnly"] is True
            assert cookies[name]["sameSite"] == "Lax"
        assert "warmcurve_session" not in context.pages[0].evaluate("document.cookie")


def test_a_reload_stays_signed_in_and_signing_out_ends_every_tab(
    server: LiveServer, browser: Browser
) -> None:
    with browser_of(browser, server, "carl") as context:
        first, second = context.pages[0], tab(context, "/enter-efforts", "Enter efforts")
        first.reload()
        first.wait_for_function(RUN_IS_OVER)
        expect(first.locator("h1")).to_have_text("Today")
        first.get_by_role("button", name="Sign out").click()
        expect(first.get_by_role("textbox", name="Sign-in name")).to_be_visible()
        rerun(second)
        expect(second.locator("h1")).to_have_text("You are signed out")
        second.reload()
        expect(second.get_by_role("textbox", name="Sign-in name")).to_be_visible()


def test_a_changed_password_ends_the_other_sign_ins_and_keeps_this_one(
    server: LiveServer, browser: Browser
) -> None:
    with (
        browser_of(browser, server, "carl") as here,
        browser_of(browser, server, "carl") as there,
    ):
        elsewhere = there.pages[0]
        page = tab(here, "/my-account", "My account")
        expect(page.get_by_text("In this browser, and in ")).to_be_visible()
        for label, typed in (
            ("Current password", PASSWORD),
            ("New password", NEW_PASSWORD),
            ("New password again", NEW_PASSWORD),
        ):
            page.get_by_role("textbox", name=label, exact=True).fill(typed)
        page.get_by_role("button", name="Change the password").click()
        expect(page.get_by_text("The password is changed.")).to_be_visible()
        expect(page.get_by_text("In this browser only.")).to_be_visible()
        rerun(elsewhere)
        expect(elsewhere.locator("h1")).to_have_text("You are signed out")
        rerun(here.pages[0])
        expect(here.pages[0].locator("h1")).to_have_text("Athlete")
        elsewhere.goto("/signin")
        enter(elsewhere, "carl", NEW_PASSWORD)
        expect(elsewhere.locator("h1")).to_have_text("Today")


def test_a_changed_role_ends_every_open_tab(
    server: LiveServer, club: Store, browser: Browser
) -> None:
    with browser_of(browser, server, "dora") as context:
        tabs = [context.pages[0], tab(context, "/accounts", "Accounts")]
        set_role(club, "carl", "director", "test")
        set_role(club, "dora", "coach", "test")
        for page in tabs:
            rerun(page)
            expect(page.locator("h1")).to_have_text("You are signed out")
        set_role(club, "dora", "director", "test")
        set_role(club, "carl", "coach", "test")
