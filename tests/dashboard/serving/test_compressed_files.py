"""Scripts that never change are compressed once, for whoever can read that."""

from __future__ import annotations

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

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
def test_who_cannot_read_it_gets_the_script_as_it_is(
    client: TestClient, headers: dict[str, str]
) -> None:
    client.get(SCRIPT, headers=ZIPPED)
    answer = client.get(SCRIPT, headers=headers)
    assert answer.text == TEXT and "Content-Encoding" not in answer.headers
    assert "Accept-Encoding" in answer.headers["Vary"], "a shared cache tells the two apart"


def test_whoever_has_it_already_is_told_so(client: TestClient) -> None:
    assert client.get(SCRIPT, headers=ZIPPED | {"If-None-Match": '"x"'}).status_code == 304
    assert client.get(SCRIPT, headers=ZIPPED).text == TEXT


@pytest.mark.parametrize(
    "path", ["/static/js/index.js", "/static/js/./plots.1a2b.js/", "/squad", "/static/js/a%2F../b"]
)
def test_what_may_change_or_is_no_such_file_is_asked_for_each_time(
    client: TestClient, asked: list[str], path: str
) -> None:
    for _ in range(2):
        assert client.get(path, headers=ZIPPED).headers.get("Content-Encoding") is None
    assert len(asked) >= 2
