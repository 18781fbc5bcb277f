"""What the server answers while the dashboard is getting ready."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from functools import partial
from threading import Thread
from typing import TYPE_CHECKING

from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send
from starlette.websockets import WebSocketClose

from dashboard.core.failures import for_anybody, told_of
from dashboard.serving.waiting import opens_page, show_waiting
from db.file.waits import Tell, telling_of_waits

if TYPE_CHECKING:
    from streamlit.starlette import App

HEADING = "The dashboard is starting"
TRY_AGAIN_LATER = 1013


class Starting:
    """Says what is being done until the application is ready, then hands every request to it.

    Parameters
    ----------
    get_ready : callable
        Returns Streamlit's application. It runs in its own thread and is given what takes each
        sentence about what it does; waits for the store are reported automatically.
    stop : callable
        Stops the server; called if `get_ready` fails, after people are told why.

    Attributes
    ----------
    problem : Exception or None
        Why there is no application.
    """

    def __init__(self, get_ready: Callable[[Tell], App], stop: Callable[[], None]) -> None:
        self.problem: Exception | None = None
        self._get_ready = get_ready
        self._stop = stop
        self._application: App | None = None
        self._thread = Thread()
        self._told: list[str] = []
        self._news = asyncio.Event()
        self._closing = asyncio.Event()

    @property
    def at_work(self) -> bool:
        """Whether the application is still getting ready, even if the server has ended."""
        return self._thread.is_alive()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request until there is an application, then let that answer it."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
        elif self._application is not None:
            await self._application(scope, receive, send)
        elif scope["type"] == "websocket":
            await WebSocketClose(code=TRY_AGAIN_LATER)(scope, receive, send)
        elif scope["path"] == "/healthz":
            await PlainTextResponse("starting")(scope, receive, send)
        elif opens_page(scope):
            await show_waiting(send, HEADING, self._sentences(), lambda: self.problem is None)
        else:
            retry = {"Retry-After": "1"}
            await PlainTextResponse(HEADING, 503, retry)(scope, receive, send)

    async def _live(self, receive: Receive, send: Send) -> None:
        """Say at once that the server is up, and run the application as soon as it is ready."""
        await receive()
        running = asyncio.create_task(self._run())
        await send({"type": "lifespan.startup.complete"})
        await receive()
        self._closing.set()
        if self._application is None:
            running.cancel()
        with suppress(asyncio.CancelledError):
            await running
        await send({"type": "lifespan.shutdown.complete"})

    async def _run(self) -> None:
        try:
            application = await self._made()
            async with application.lifespan()(application):
                self._application = application
                self._note()
                await self._closing.wait()
        except Exception as error:
            self.problem = error
            self._note(told_of(error, "the dashboard while it was starting", "Start it again."))
            self._stop()

    async def _made(self) -> App:
        """Get ready in a thread of our own: the server would wait for one of the loop's to end."""
        loop = asyncio.get_running_loop()
        made: asyncio.Future[App] = loop.create_future()

        def in_the_loop(callback: Callable[..., None], given: object) -> None:
            with suppress(RuntimeError):  # the server was stopped meanwhile
                loop.call_soon_threadsafe(callback, given)

        def work() -> None:
            tell = partial(in_the_loop, self._note)
            try:
                with telling_of_waits(tell):
                    application = self._get_ready(tell)
            except Exception as error:
                in_the_loop(made.set_exception, error)
            else:
                in_the_loop(made.set_result, application)

        self._thread = Thread(target=work, name="getting ready", daemon=True)
        self._thread.start()
        return await made

    def _note(self, sentence: str = "") -> None:
        """Show everybody who is waiting a sentence, or that the wait is over."""
        if sentence:
            self._told.append(for_anybody(sentence))
        self._news.set()
        self._news = asyncio.Event()

    async def _sentences(self) -> AsyncIterator[str]:
        """Yield the sentences so far and then each new one, until the wait is over."""
        said = 0
        while True:
            news = self._news
            while said < len(self._told):
                yield self._told[said]
                said += 1
            if self._application is not None or self.problem is not None:
                return
            await news.wait()
