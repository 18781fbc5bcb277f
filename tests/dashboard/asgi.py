"""Asks an application as a server does, and sees each part of the answer as it is sent."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

from starlette.types import ASGIApp, Message

from tests.patience import PATIENCE_SECONDS


@dataclass
class Answer:
    """The answer so far."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    text: str = ""
    task: asyncio.Task[None] | None = None
    _news: asyncio.Condition = field(default_factory=asyncio.Condition)

    async def receive(self) -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(self, message: Message) -> None:
        async with self._news:
            if message["type"] == "http.response.start":
                self.status = message["status"]
                self.headers = {name.decode(): value.decode() for name, value in message["headers"]}
            else:
                self.text += message["body"].decode()
            self._news.notify_all()

    async def says(self, words: str) -> None:
        """Wait until the answer holds the words."""
        async with self._news, asyncio.timeout(PATIENCE_SECONDS):
            await self._news.wait_for(lambda: words in self.text)

    async def ended(self) -> None:
        """Wait until the answer is complete."""
        assert self.task is not None
        await self.task


def opened(
    application: ASGIApp, path: str, accept: str = "text/html", method: str = "GET"
) -> Answer:
    """Ask without waiting for the answer."""
    answer = Answer()
    scope = {
        "type": "http",
        "method": method,
        "scheme": "http",
        "path": path.partition("?")[0],
        "query_string": path.partition("?")[2].encode(),
        "headers": [(b"accept", accept.encode()), (b"host", b"127.0.0.1")],
        "server": ("127.0.0.1", 80),
    }
    answer.task = asyncio.ensure_future(application(scope, answer.receive, answer.send))
    return answer


async def asked(
    application: ASGIApp, path: str, accept: str = "*/*", method: str = "GET"
) -> Answer:
    """Ask and wait for the whole answer."""
    answer = opened(application, path, accept, method)
    await answer.ended()
    return answer
