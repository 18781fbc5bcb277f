"""A page that is opened while another process has the store says so at once."""

from __future__ import annotations

import asyncio

import pytest
from playwright.sync_api import Browser
from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from dashboard.serving.waiting import GO_ON, WaitingPage
from db.file import waits
from db.file.store import Store
from db.file.waits import Wait
from tests.dashboard.asgi import Answer, asked, opened
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import serving
from tests.dashboard.screens import browser as browser  # the fixture
from tests.dashboard.screens import window
from tests.held_store import held


class Waiting:
    """An application that waits for the store, in a thread, until it is let go."""

    def __init__(self, error: Exception | None = None) -> None:
        self.let_go = asyncio.Event()
        self._error = error

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await run_in_threadpool(Wait(15).pause, "Other work has the store.")
        await self.let_go.wait()
        if self._error is not None:
            raise self._error
        await PlainTextResponse("the squad")(scope, receive, send)


@pytest.fixture(autouse=True)
def said_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waits, "SAID_AFTER_SECONDS", 0.0)


@pytest.mark.parametrize("error", [None, OSError("not there")])
def test_a_page_that_waits_says_why_and_then_asks_again(error: Exception | None) -> None:
    async def look() -> Answer:
        application = Waiting(error)
        page = opened(WaitingPage(application), "/")
        await page.says("<p>Other work has the store. This waits for it, 15 seconds at most.</p>")
        assert page.status == 503 and GO_ON not in page.text
        application.let_go.set()
        await page.ended()
        return page

    page = asyncio.run(look())
    assert GO_ON in page.text and "the squad" not in page.text


def test_an_answer_without_a_wait_passes_unchanged() -> None:
    async def look() -> Answer:
        return await asked(WaitingPage(PlainTextResponse("the squad")), "/", accept="text/html")

    assert asyncio.run(look()).text == "the squad"


@pytest.mark.parametrize(("accept", "method"), [("*/*", "GET"), ("text/html", "POST")])
def test_other_requests_are_answered_only_when_done(accept: str, method: str) -> None:
    async def look() -> Answer:
        application = Waiting()
        application.let_go.set()
        return await asked(WaitingPage(application), "/", accept, method)

    answer = asyncio.run(look())
    assert (answer.status, answer.text) == (200, "the squad")


@pytest.mark.usefixtures("closed_in_between")
def test_a_browser_sees_who_has_the_store_and_goes_on_by_itself(
    filled_store: Store, browser: Browser
) -> None:
    with held(filled_store.path) as holder, serving(filled_store.path, answers="starting") as club:
        with window(browser, club, "phone") as seen:
            page = seen.page
            name = page.get_by_role("textbox", name="Sign-in name")
            page.goto(club.address, wait_until="commit")
            page.get_by_text(f"The store is held by process {holder.pid}.").wait_for()
            holder.let_go()
            name.fill("carl")
            page.get_by_role("textbox", name="Password").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            page.get_by_role("heading", name="Today").wait_for()
            with held(filled_store.path) as again:
                filled_store.path.touch()  # so that the page has to ask again
                page.goto(club.address, wait_until="commit")
                page.get_by_text(f"The store is held by process {again.pid}.").wait_for()
                again.let_go()
                page.get_by_role("heading", name="Today").wait_for()
            assert seen.errors == []
