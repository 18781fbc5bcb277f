"""Streamlit's own scripts and styles, compressed once and then sent from memory.

Streamlit sends them uncompressed, because it would compress them again for every browser. They are
9 MB of a first visit and hardly 3 MB compressed, which matters on a phone or in a sports hall.
"""

from __future__ import annotations

import asyncio
import gzip
import re
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

FILE = re.compile(r"/static/(?:js|css)/[\w.-]+", re.ASCII)
"""One spelling for each file, so that the memory used has a limit."""
LEVEL = 6
"""Level 9 takes a third longer for half a percent."""


@dataclass(frozen=True)
class Compressed:
    """A file as it is sent: the raw headers of the answer, and its body."""

    headers: list[tuple[bytes, bytes]]
    body: bytes


class CompressedFiles:
    """Serves those files of an application that never change under their names."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._known: dict[str, Compressed] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send a file compressed to clients that can read that; pass on everything else."""
        if scope["type"] != "http" or not FILE.fullmatch(scope["path"]):
            await self.app(scope, receive, send)
            return
        known = None
        if _takes_it_compressed(scope):
            known = self._known.get(scope["path"]) or await self._compress(scope)
        if known is None:
            await self.app(scope, receive, _varying(send))
            return
        await send({"type": "http.response.start", "status": 200, "headers": [*known.headers]})
        await send({"type": "http.response.body", "body": known.body})

    async def _compress(self, scope: Scope) -> Compressed | None:
        """Ask for a file and compress it; None if it may change or is not whole.

        This asks as a client that never disconnects. An answer is cut short for a browser that
        has moved to another page, and from then on everybody would get the short one.
        """
        answer: list[Message] = []

        async def collect(message: Message) -> None:
            answer.append(message)

        await self.app(scope, _who_never_leaves(), collect)
        headers = MutableHeaders(raw=[*answer[0]["headers"]])
        never_changes = "immutable" in headers.get("cache-control", "")
        if answer[0]["status"] != 200 or not never_changes or "content-encoding" in headers:
            return None
        plain = b"".join(part.get("body", b"") for part in answer[1:])
        if headers.get("content-length") != str(len(plain)):
            return None
        body = await run_in_threadpool(gzip.compress, plain, LEVEL, mtime=0)
        headers["content-encoding"] = "gzip"
        headers["content-length"] = str(len(body))
        headers.add_vary_header("Accept-Encoding")
        del headers["etag"]  # it belongs to the uncompressed bytes
        self._known[scope["path"]] = Compressed(headers.raw, body)
        return self._known[scope["path"]]


def _who_never_leaves() -> Receive:
    asked: list[Message] = [{"type": "http.request", "body": b"", "more_body": False}]

    async def receive() -> Message:
        if asked:
            return asked.pop()
        await asyncio.Event().wait()
        raise AssertionError

    return receive


def _takes_it_compressed(scope: Scope) -> bool:
    headers = Headers(scope=scope)
    whole = not {"range", "if-none-match", "if-modified-since"} & {*headers.keys()}
    return scope["method"] == "GET" and whole and "gzip" in headers.get("accept-encoding", "")


def _varying(send: Send) -> Send:
    async def send_varying(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).add_vary_header("Accept-Encoding")
        await send(message)

    return send_varying
