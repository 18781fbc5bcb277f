"""Scripts that never change are compressed once, for browsers that can read that."""

from __future__ import annotations

import asyncio
import gzip

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from dashboard.serving.compressed_files import CompressedFiles

SCRIPT = "/static/js/plots.1a2b.js"
TEXT = "export const words = 'again and again';\n" * 200
FOR_EVER = "public, immutable, max-age=31536000"
ZIPPED, PLAIN = {"Accept-Encoding": "gzip, br"}, {"Accept-Encoding": "identity"}


@pytest.fixture
def asked() -> list[str]:
    """What the application was asked for, in order."""
    return []


@pytest.fixture
def client(asked: list[str]) -> TestClient:
    async def script(request: Request) -> Response:
        asked.append(request.url.path)
        if "if-none-match" in request.headers:
            return Response(status_code=304)
        kept = "no-cache" if "index" in request.url.path else FOR_EVER
        headers = {"Cache-Control": kept, "ETag": '"of the bytes"'}
        return Response(TEXT, media_type="text/javascript", headers=headers)

    app = Starlette(
        routes=[Route("/{path:path}", script)], middleware=[Middleware(CompressedFiles)]
    )
    return TestClient(app)


def test_a_script_is_compressed_once_and_then_sent_from_memory(
    client: TestClient, asked: list[str]
) -> None:
    first, second = client.get(SCRIPT, headers=ZIPPED), client.get(SCRIPT, headers=ZIPPED)
    assert asked == [SCRIPT]
    for answer in (first, second):
        assert answer.text == TEXT
        assert answer.headers["Content-Encoding"] == "gzip"
        assert int(answer.headers["Content-Length"]) < len(TEXT) / 10
        assert answer.headers["Cache-Control"] == FOR_EVER
        assert "Accept-Encoding" in answer.headers["Vary"]
        assert "ETag" not in answer.headers


@pytest.mark.parametrize("headers", [PLAIN, ZIPPED | {"Range": "bytes=0-9"}])
def test_a_client_that_cannot_use_it_gets_the_plain_script(
    client: TestClient, headers: dict[str, str]
) -> None:
    client.get(SCRIPT, headers=ZIPPED)
    answer = client.get(SCRIPT, headers=headers)
    assert answer.text == TEXT and "Content-Encoding" not in answer.headers
    assert "Accept-Encoding" in answer.headers["Vary"], "a shared cache tells the two apart"


def test_a_browser_that_already_has_the_script_is_told_so(client: TestClient) -> None:
    assert client.get(SCRIPT, headers=ZIPPED | {"If-None-Match": '"x"'}).status_code == 304
    assert client.get(SCRIPT, headers=ZIPPED).text == TEXT


@pytest.mark.parametrize(
    "path", ["/static/js/index.js", "/static/js/./plots.1a2b.js/", "/squad", "/static/js/a%2F../b"]
)
def test_other_files_are_asked_for_each_time(
    client: TestClient, asked: list[str], path: str
) -> None:
    for _ in range(2):
        assert client.get(path, headers=ZIPPED).headers.get("Content-Encoding") is None
    assert len(asked) >= 2


async def cut_short(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer as Starlette's middleware does: send nothing more to a browser that has left."""
    await receive()
    text = TEXT.encode()
    headers = [(b"cache-control", FOR_EVER.encode()), (b"content-length", b"%d" % len(text))]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    try:
        left = await asyncio.wait_for(receive(), 0.05)
    except TimeoutError:
        left = {"type": "nobody left"}
    body = b"" if left["type"] == "http.disconnect" else text
    await send({"type": "http.response.body", "body": body})


def test_a_browser_that_leaves_at_once_does_not_spoil_the_file() -> None:
    app = CompressedFiles(cut_short)
    scope = {
        "type": "http",
        "method": "GET",
        "path": SCRIPT,
        "headers": [(b"accept-encoding", b"gzip")],
    }

    async def asked_by(*told: Message) -> bytes:
        coming, sent = [*told], []

        async def receive() -> Message:
            if not coming:
                await asyncio.Event().wait()
            return coming.pop(0)

        async def send(message: Message) -> None:
            sent.append(message)

        await app(scope, receive, send)
        return gzip.decompress(b"".join(part.get("body", b"") for part in sent))

    request: Message = {"type": "http.request", "body": b"", "more_body": False}
    asyncio.run(asked_by(request, {"type": "http.disconnect"}))
    assert asyncio.run(asked_by(request)) == TEXT.encode()


def test_an_incomplete_file_is_not_remembered() -> None:
    whole: list[bool] = [False, False, True]

    async def often_cut_short(scope: Scope, receive: Receive, send: Send) -> None:
        text = TEXT.encode() if whole.pop(0) else b""
        headers = [(b"cache-control", FOR_EVER.encode()), (b"content-length", b"%d" % len(TEXT))]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": text})

    client = TestClient(CompressedFiles(often_cut_short))
    client.get(SCRIPT, headers=ZIPPED)
    assert client.get(SCRIPT, headers=ZIPPED).text == TEXT
