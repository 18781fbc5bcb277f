from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx2 as httpx
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.websockets import WebSocket, WebSocketDisconnect

from dashboard.screen.web_sessions import open_session, session_id
from dashboard.serving.gate import PERSON_HEADER, SESSION_COOKIE, SID_HEADER, Gate, security_headers
from db.file.store import Store
from db.people.accounts import Person, add_person, get_person, set_active
from tests.dashboard.conftest import new_store
from tests.dashboard.live_server import LiveServer, cookie_header, serving

ORIGIN = "http://testserver"


async def echo(request: Request) -> JSONResponse:
    return JSONResponse(dict(request.headers))


async def echo_websocket(websocket: WebSocket) -> None:
    await websocket.accept()
    await websocket.send_json(dict(websocket.headers))
    await websocket.close()


@pytest.fixture(scope="module")
def made_store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return new_store(tmp_path_factory.mktemp("gate") / "club.duckdb")


@pytest.fixture
def store(made_store: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setenv("WARMCURVE_DB", str(made_store.path))
    return made_store


@pytest.fixture
def client() -> TestClient:
    routes = [
        Route("/{path:path}", echo, methods=["GET", "POST"]),
        WebSocketRoute("/ws", echo_websocket),
    ]
    return TestClient(
        Starlette(routes=routes, middleware=[Middleware(Gate)]), follow_redirects=False
    )


def cookie_of(store: Store, name: str) -> dict[str, str]:
    person = get_person(store, name)
    assert person is not None
    return {"Cookie": f"{SESSION_COOKIE}={open_session(store, person)}"}


def websocket_refusal(client: TestClient, headers: dict[str, str]) -> str:
    try:
        with client.websocket_connect("/ws", headers=headers):
            return ""
    except WebSocketDisconnect as refusal:
        return refusal.reason


def test_cookie_becomes_trusted_headers(store: Store, client: TestClient) -> None:
    cookie = cookie_of(store, "carl")
    seen = client.get("/page", headers=cookie).json()
    assert seen[PERSON_HEADER.lower()] == "carl"
    assert seen[SID_HEADER.lower()] == session_id(cookie["Cookie"].partition("=")[2])


def test_forged_headers_are_dropped(store: Store, client: TestClient) -> None:
    forged = {PERSON_HEADER: "dora", SID_HEADER: "0" * 64, "X-Warmcurve-Role": "director"}
    seen = client.get("/page", headers=cookie_of(store, "carl") | forged).json()
    assert seen[PERSON_HEADER.lower()] == "carl"
    assert seen[SID_HEADER.lower()] != "0" * 64
    assert "x-warmcurve-role" not in seen
    assert PERSON_HEADER.lower() not in client.get("/signin", headers=forged).json()


def test_forged_headers_are_dropped_on_websockets(store: Store, client: TestClient) -> None:
    headers = cookie_of(store, "carl") | {PERSON_HEADER: "dora", "Origin": ORIGIN}
    with client.websocket_connect("/ws", headers=headers) as websocket:
        assert websocket.receive_json()[PERSON_HEADER.lower()] == "carl"


def test_websocket_from_our_own_page_is_let_in(store: Store, client: TestClient) -> None:
    assert websocket_refusal(client, cookie_of(store, "dora") | {"Origin": ORIGIN}) == ""


def test_page_without_cookie_goes_to_sign_in(store: Store, client: TestClient) -> None:
    response = client.get("/athlete?athlete=A1", headers={"Accept": "text/html"})
    assert response.status_code == 303
    assert response.headers["location"] == "/signin?next=/athlete%3Fathlete%3DA1"


@pytest.mark.parametrize("cookie", ["", "unknown", "x" * 5000, "ünknown"])
def test_everything_else_without_a_good_cookie_is_refused(
    store: Store, client: TestClient, cookie: str
) -> None:
    headers = {"Cookie": f"{SESSION_COOKIE}={cookie}".encode()}
    response = client.get("/_stcore/health", headers=headers)
    assert response.status_code == 401


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://testserver:9999", "https://testserver"]
)
def test_posts_and_websockets_from_elsewhere_are_refused(
    store: Store, client: TestClient, origin: str | None
) -> None:
    headers = cookie_of(store, "dora") | ({} if origin is None else {"Origin": origin})
    assert client.post("/page", headers=headers).status_code == 403
    assert client.post("/signin", headers=headers).status_code == 403
    assert "another site" in websocket_refusal(client, headers)


def test_post_from_our_own_page_passes(store: Store, client: TestClient) -> None:
    headers = cookie_of(store, "dora") | {"Origin": ORIGIN}
    assert client.post("/page", headers=headers).status_code == 200


def test_deactivation_acts_on_the_next_request(store: Store, client: TestClient) -> None:
    add_person(store, Person("leaver", "Leaver", "coach"), "no password", "test")
    cookie = cookie_of(store, "leaver")
    assert client.get("/page", headers=cookie).status_code == 200
    set_active(store, "leaver", False, "test")
    assert client.get("/page", headers=cookie).status_code == 401


def test_a_missing_store_is_reported_in_a_sentence(
    store: Store, client: TestClient, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(tmp_path / "gone.duckdb"))
    response = client.get("/page", headers={"Cookie": f"{SESSION_COOKIE}=anything"})
    assert response.status_code == 503
    assert "There is no store at gone.duckdb." in response.text
    assert str(tmp_path) not in response.text


def test_policy_names_no_other_host_and_no_eval() -> None:
    policy = security_headers()["Content-Security-Policy"]
    assert "http" not in policy
    assert "unsafe-eval" not in policy
    assert "'unsafe-inline'" not in policy.partition("style-src")[0]


@pytest.fixture(scope="module")
def server(made_store: Store) -> Iterator[LiveServer]:
    hosts = "club.example staff.example"
    with serving(made_store.path, "--host", "127.0.0.1", WARMCURVE_ALLOW_HOST=hosts) as server:
        yield server


@pytest.fixture(scope="module")
def coach(server: LiveServer) -> Iterator[httpx.Client]:
    with server.signed_in("carl") as client:
        yield client


PRIVATE = [
    "/",
    "/_stcore/health",
    "/_stcore/host-config",
    "/_stcore/metrics",
    "/_stcore/agent/openapi.json",
    "/media/abc.csv",
    "/static/js/index.js",
    "/download/export/responses.csv",
    "/signout",
]


@pytest.mark.parametrize("path", PRIVATE)
def test_live_nothing_is_given_without_a_cookie(server: LiveServer, path: str) -> None:
    forged = {PERSON_HEADER: "dora", SID_HEADER: "0" * 64}
    with server.client() as client:
        assert client.get(path, headers=forged).status_code == 401


def test_live_open_paths(server: LiveServer) -> None:
    with server.client() as client:
        assert client.get("/healthz").text == "ok"
        assert client.get("/signin").status_code == 200


def test_live_signed_in_page_carries_the_policy(coach: httpx.Client) -> None:
    response = coach.get("/")
    assert response.status_code == 200
    assert "<script" in response.text
    assert response.headers["content-security-policy"].startswith("default-src 'self'")
    assert response.headers["x-frame-options"] == "DENY"


def test_live_scripts_are_compressed_and_only_for_signed_in_people(
    server: LiveServer, coach: httpx.Client
) -> None:
    found = re.search(r'src="\.?(/static/js/[\w.-]+)"', coach.get("/").text)
    assert found is not None
    answers = [coach.get(found[1]) for _ in range(2)]
    assert answers[0].content == answers[1].content and answers[0].headers["x-frame-options"]
    assert all(each.headers["content-encoding"] == "gzip" for each in answers)
    assert "immutable" in answers[1].headers["cache-control"]
    with server.client() as client:
        assert client.get(found[1]).status_code == 401


def test_live_websocket_needs_cookie_and_our_origin(
    server: LiveServer, coach: httpx.Client
) -> None:
    cookie, ours = {"Cookie": cookie_header(coach)}, {"Origin": server.address}
    assert server.websocket_status(cookie | ours) == 101
    assert server.websocket_status(ours) == 403
    assert server.websocket_status(ours | {PERSON_HEADER: "dora"}) == 403
    assert server.websocket_status(cookie) == 403
    for origin in ("http://evil.example", "http://localhost:9999", "http://127.0.0.1:9999"):
        assert server.websocket_status(cookie | {"Origin": origin}) == 403


def test_live_foreign_host_is_refused(server: LiveServer, coach: httpx.Client) -> None:
    for path in ("/", "/signin", "/healthz"):
        response = coach.get(path, headers={"Host": "evil.example"})
        assert response.status_code == 400


def test_live_host_of_a_proxy_is_let_in_when_named(server: LiveServer) -> None:
    proxied = {"Host": "club.example", "X-Forwarded-Proto": "https"}
    with server.client() as client:
        page = client.get("/signin", headers=proxied)
        assert page.status_code == 200
        assert "secure" in page.headers["set-cookie"].lower()


def test_live_cookie_is_worth_nothing_after_sign_out(server: LiveServer) -> None:
    with server.signed_in("carl") as client:
        copied = {"Cookie": cookie_header(client)}
        page = client.get("/signout").text
        token = page.partition('name="form_token" value="')[2].partition('"')[0]
        assert client.post("/signout", data={"form_token": "0" * 64}).status_code == 403
        assert client.get("/").status_code == 200
        assert client.post("/signout", data={"form_token": token}).status_code == 303
    with server.client() as stranger:
        assert stranger.get("/", headers=copied).status_code == 401
    assert server.websocket_status(copied | {"Origin": server.address}) == 403


def test_live_only_named_hosts_are_answered_and_only_from_their_own_pages(
    server: LiveServer,
) -> None:
    with server.client() as client:
        for host in ("club.example", "staff.example"):
            asked = {"Host": host, "Origin": f"http://{host}"}
            assert client.get("/signin", headers=asked).status_code == 200
            assert "has expired" in client.post("/signin", headers=asked).text
            asked["Origin"] = server.address
            assert "came from another site" in client.post("/signin", headers=asked).text
