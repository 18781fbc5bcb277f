"""What the server answers while it gets the dashboard ready, and what people who wait see then."""

from __future__ import annotations

import asyncio
import logging
import threading
import weakref
from collections.abc import AsyncIterator, Awaitable, Callable
from concurrent.futures import Future
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.responses import PlainTextResponse
from starlette.types import Message, Receive, Scope, Send

from dashboard.app import serve
from dashboard.app.starting import Starting
from dashboard.club.daily_retention import start_daily_retention
from dashboard.club.scheduled_backups import start_scheduled_backups
from dashboard.serving.waiting import GO_ON
from db.errors import StoreDamaged
from db.file.store import Store
from db.file.waits import Tell
from tests.dashboard.asgi import Answer, asked, opened
from tests.patience import PATIENCE_SECONDS


class Application:
    """Answers "the squad", and notes when it begins and ends."""

    def __init__(self) -> None:
        self.life: list[str] = []

    def lifespan(self) -> Callable[[object], AbstractAsyncContextManager[None]]:
        @asynccontextmanager
        async def live(_application: object) -> AsyncIterator[None]:
            self.life.append("begun")
            yield
            self.life.append("ended")

        return live

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        assert self.life == ["begun"]
        await PlainTextResponse("the squad")(scope, receive, send)


class Maker:
    """Gets the application ready when the test lets it, in the thread that calls it."""

    def __init__(self) -> None:
        self.application = Application()
        self.made: Future[Any] = Future()
        self.began: asyncio.Future[Tell] = asyncio.get_running_loop().create_future()
        self._loop = asyncio.get_running_loop()

    def __call__(self, tell: Tell) -> Any:
        self._loop.call_soon_threadsafe(self.began.set_result, tell)
        return self.made.result()


def lived(test: Callable[[Starting, Maker], Awaitable[None]]) -> tuple[Starting, Maker, list[str]]:
    """Run a server's lifespan around the test, as uvicorn does, and return what took part."""
    stopped: list[str] = []

    async def run() -> tuple[Starting, Maker]:
        maker = Maker()
        starting = Starting(maker, lambda: stopped.append("stopped"))
        messages: asyncio.Queue[Message] = asyncio.Queue()
        messages.put_nowait({"type": "lifespan.startup"})
        up = asyncio.Event()

        async def send(message: Message) -> None:
            assert message["type"].endswith(".complete")
            up.set()

        life = asyncio.create_task(starting({"type": "lifespan"}, messages.get, send))
        await up.wait()
        await test(starting, maker)
        messages.put_nowait({"type": "lifespan.shutdown"})
        await life
        return starting, maker

    return *asyncio.run(run()), stopped


def test_a_page_says_what_is_done_and_goes_on_when_all_is_ready() -> None:
    async def look(starting: Starting, maker: Maker) -> None:
        tell = await maker.began
        assert (await asked(starting, "/healthz")).text == "starting"
        page = opened(starting, "/athlete?athlete=A1")
        tell("Making <the demo squad>.")
        await page.says("<p>Making &lt;the demo squad&gt;.</p>")
        late = opened(starting, "/")
        await late.says("<p>Making &lt;the demo squad&gt;.</p>")
        tell("Loading the pages.")
        await page.says("<p>Loading the pages.</p>")
        assert GO_ON not in page.text
        maker.made.set_result(maker.application)
        for each in (page, late):
            await each.ended()
            assert each.status == 503 and GO_ON in each.text
            assert each.headers["content-security-policy"].startswith("default-src 'none'")
        assert (await asked(starting, "/")).text == "the squad"

    starting, maker, stopped = lived(look)
    assert maker.application.life == ["begun", "ended"]
    assert (starting.problem, stopped) == (None, [])


def test_requests_that_show_no_page_are_told_to_come_back() -> None:
    async def look(starting: Starting, maker: Maker) -> None:
        await maker.began
        for answer in (
            await asked(starting, "/_stcore/health"),
            await asked(starting, "/signin", accept="text/html", method="POST"),
        ):
            assert (answer.status, answer.headers["retry-after"]) == (503, "1")
        sent: list[Message] = []

        async def send(message: Message) -> None:
            sent.append(message)

        await starting({"type": "websocket", "path": "/_stcore/stream"}, Answer().receive, send)
        assert [message["type"] for message in sent] == ["websocket.close"]
        maker.made.set_result(maker.application)

    lived(look)


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (StoreDamaged("The file /folder/x cannot be read."), "The file x cannot be read."),
        (OSError("lost"), "A fault in warmcurve stopped the dashboard while it was starting."),
    ],
)
def test_a_failed_start_is_explained_and_ends_the_server(
    error: Exception, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", "/folder/x")

    async def look(starting: Starting, maker: Maker) -> None:
        await maker.began
        page = opened(starting, "/")
        maker.made.set_exception(error)
        await page.says(f"<p>{said}")
        await page.ended()
        assert GO_ON not in page.text and "lost" not in page.text

    starting, maker, stopped = lived(look)
    assert (starting.problem, stopped) == (error, ["stopped"])
    assert maker.application.life == []


def test_a_server_stopped_while_starting_does_not_wait() -> None:
    async def look(starting: Starting, maker: Maker) -> None:
        await maker.began
        assert starting.at_work

    starting, maker, stopped = lived(look)
    maker.made.set_result(maker.application)
    assert (starting.problem, stopped, maker.application.life) == (None, [], [])


def test_a_server_that_ends_waits_for_its_background_threads(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """If Python ended a thread in the middle of the store's code, the process would abort."""
    store = Store(tmp_path / "club.duckdb")
    store.create()
    monkeypatch.setattr(serve, "END_SECONDS", PATIENCE_SECONDS)
    begun = [start_daily_retention(store, print), start_scheduled_backups(store, print)]
    threads = [thread for thread in threading.enumerate() if thread.name in serve.BESIDE]
    assert len(threads) == 2, "the names are those of the threads"
    for each in begun:
        each.set()
    assert serve._has_ended_beside() and not any(thread.is_alive() for thread in threads)
    held = threading.Event()
    endless = threading.Thread(target=held.wait, name=serve.LOADING)
    endless.start()
    monkeypatch.setattr(serve, "END_SECONDS", 0.0)
    assert not serve._has_ended_beside()
    held.set()
    endless.join()


def test_the_log_of_the_server_is_set_up_while_another_thread_makes_a_handler(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """`logging.config` closes all handlers of the process, and a half-made one has no lock yet."""
    half = logging.Handler.__new__(logging.Handler)
    known = [*vars(logging)["_handlerList"], weakref.ref(half)]
    monkeypatch.setattr(logging, "_handlerList", known)
    server = serve.server_of(PlainTextResponse("x"))
    server.config.configure_logging()
