"""Watch every answer, for the access log and for the metrics."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.core.events import log_event

PARTS_TOLD = 2
"""How many parts of an address are logged; names of files may come after them."""
SHORTEST_SECRET = 20
"""Parts with this many characters are not logged, as the secrets of links and invitations have
more."""


@dataclass(frozen=True)
class Answer:
    """An answer: to which request, with what status, and how long it took."""

    method: str
    path: str
    status: int
    seconds: float


Watcher = Callable[[Answer], None]


class Watched:
    """Lets an application answer, and tells watchers about every answer but not websockets."""

    def __init__(self, app: ASGIApp, watchers: Sequence[Watcher]) -> None:
        self.app = app
        self.watchers = watchers

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, and tell the watchers; an answer that broke before it began counts as a 500."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began, status = time.perf_counter(), 500

        async def noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, noting)
        finally:
            seconds = time.perf_counter() - began
            answer = Answer(scope["method"], scope["path"], status, seconds)
            for watcher in self.watchers:
                watcher(answer)


def log_access(answer: Answer) -> None:
    """Write a line of the access log, without query, secrets or the client's address."""
    log_event(
        "access",
        method=answer.method,
        path=told_path(answer.path),
        status=answer.status,
        ms=round(1000.0 * answer.seconds),
    )


def told_path(path: str) -> str:
    """Return the part of an address that names nobody and lets nobody in."""
    parts = [part if len(part) < SHORTEST_SECRET else "..." for part in path.split("/")[1:]]
    # Leave out control characters, as one could begin a new line in the log.
    told = "".join(each for each in "/".join(parts[:PARTS_TOLD]) if each.isprintable())
    return f"/{told.replace(' ', '%20')}{'/...' if len(parts) > PARTS_TOLD else ''}"
