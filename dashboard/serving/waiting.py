"""A page that says at once what it is waiting for, and then goes on by itself."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import suppress

from markupsafe import Markup, escape
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.serving.answer_headers import NO_SCRIPT_POLICY, headers_with
from dashboard.serving.own_pages import page
from db.file.waits import telling_of_waits

PLACE = Markup("<!-- sentences -->")
GO_ON = '<meta http-equiv="refresh" content="0">'
WAITING_HEADERS = {
    **headers_with(NO_SCRIPT_POLICY),
    "Cache-Control": "no-store",
    "Retry-After": "1",
    "X-Accel-Buffering": "no",  # so a proxy passes each sentence on at once
}


class WaitingPage:
    """Answers people who open a page while others have the store, without waiting for it.

    The page's own work goes on meanwhile. The answer ends when that is done, and then makes the
    browser ask again, so nobody asks twice at once.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the application answer, or first say what it is waiting for."""
        if not opens_page(scope):
            await self.app(scope, receive, send)
            return
        loop, told = asyncio.get_running_loop(), asyncio.Event()
        waits: list[str] = []
        answering = waiting = False

        def tell(what: str) -> None:
            waits.append(what)
            loop.call_soon_threadsafe(told.set)

        async def send_in_time(message: Message) -> None:
            nonlocal answering
            if not waiting:
                answering = True
                await send(message)

        async def sentences() -> AsyncIterator[str]:
            yield waits[0]
            # If it failed, the browser learns why when it asks again.
            with suppress(Exception):
                await work

        with telling_of_waits(tell):
            work = asyncio.ensure_future(self.app(scope, receive, send_in_time))
        long = asyncio.ensure_future(told.wait())
        try:
            await asyncio.wait([work, long], return_when=asyncio.FIRST_COMPLETED)
            if work.done() or answering:
                await work
            else:
                waiting = True
                await show_waiting(send, "One moment", sentences())
        finally:
            work.cancel()
            long.cancel()


def opens_page(scope: Scope) -> bool:
    """Tell whether somebody opens a page to read it."""
    return (
        scope["type"] == "http"
        and scope["method"] == "GET"
        and "text/html" in Headers(scope=scope).get("accept", "")
    )


async def show_waiting(
    send: Send,
    heading: str,
    sentences: AsyncIterator[str],
    goes_on: Callable[[], bool] = lambda: True,
) -> None:
    """Answer with a page that shows each sentence as it comes.

    After the last one, the browser asks again if `goes_on` is then true.
    """
    html = bytes(page("waiting.html", heading=heading, sentences=PLACE).body)
    before, _, after = html.partition(PLACE.encode())
    headers = {"Content-Type": "text/html; charset=utf-8", **WAITING_HEADERS}
    raw = [(name.lower().encode(), value.encode()) for name, value in headers.items()]
    await send({"type": "http.response.start", "status": 503, "headers": raw})

    async def write(text: bytes, more: bool = True) -> None:
        await send({"type": "http.response.body", "body": text, "more_body": more})

    await write(before)
    async for sentence in sentences:
        await write(f"<p>{escape(sentence)}</p>\n".encode())
    await write(GO_ON.encode() * goes_on() + after, more=False)
