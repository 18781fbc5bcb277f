"""A dashboard under a path of a shared host: it leads nowhere else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

import dashboard
from dashboard.app.routes import ROUTES
from dashboard.own.home_screen import MANIFEST_PATH
from dashboard.serving.base_path import UnderBasePath
from dashboard.serving.gate import Gate
from dashboard.serving.listening import CannotServe, Where
from db.file.store import Store
from tests.dashboard.conftest import PASSWORD

BASE = "/club-a"
ORIGIN = "http://testserver"


@pytest.fixture
def client(filled_store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    monkeypatch.setenv("WARMCURVE_UNDER", BASE)
    inside = Starlette(routes=ROUTES, middleware=[Middleware(Gate)])
    with TestClient(
        UnderBasePath(inside, BASE), headers={"Origin": ORIGIN}, follow_redirects=False
    ) as client:
        yield client


def leads(client: TestClient, path: str) -> str:
    return client.get(path, headers={"Accept": "text/html"}).headers["Location"]


def test_an_athlete_signs_in_and_every_address_stays_under_the_path(client: TestClient) -> None:
    assert leads(client, BASE) == f"{BASE}/"
    assert leads(client, f"{BASE}/squad?x=1") == f"{BASE}/signin?next=/squad%3Fx%3D1"
    asked = client.get(f"{BASE}/signin").text
    token = re.search(r'name="form_token" value="([^"]+)"', asked)
    assert token is not None and f'action="{BASE}/signin"' in asked
    fields = {"form_token": token[1], "name": "long.one", "password": PASSWORD, "next": "/mine"}
    let_in = client.post(f"{BASE}/signin", data=fields)
    assert (let_in.status_code, let_in.headers["Location"]) == (303, f"{BASE}/mine")
    assert {cookie.path for cookie in client.cookies.jar} == {BASE}
    page = client.get(f"{BASE}/mine").text
    addresses = re.findall(r'(?:href|action|src)="(/[^"]*)"', page)
    assert addresses and all(address.startswith(f"{BASE}/") for address in addresses)
    manifest = client.get(BASE + MANIFEST_PATH).json()
    assert (manifest["start_url"], manifest["scope"]) == ("../mine", "../")
    assert client.get("/club-b/mine").status_code == 404


def test_other_paths_say_where_the_dashboard_is(client: TestClient) -> None:
    for path in ("/", "/signin", "/club-ab/signin", "/healthz/x"):
        answer = client.get(path)
        assert answer.status_code == 404 and "The dashboard is at /club-a/ here." in answer.text
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/_stcore/stream"):
        pass
    assert client.get("/healthz").text == "ok", "what watches the server needs no path"


@pytest.mark.parametrize("path", ["club-a", "/", "/club-a/", "/Club", "/a//b", "/a b", "/../a"])
def test_an_invalid_base_path_is_refused(path: str) -> None:
    with pytest.raises(CannotServe, match="is not a path such as /club-a"):
        Where(base_path=path)


def test_no_address_is_written_without_the_base_path() -> None:
    house = Path(dashboard.__file__).parent
    bare = re.compile(r"""(?:href|action|src)=["']/|(?<!at\()(?<!at\(f)"/(?:download|athlete\?)""")
    for file in [*house.rglob("*.py"), *house.rglob("*.html")]:
        if file.name != "downloads.py":
            text = re.sub(r"at\(\s+", "at(", file.read_text("utf-8"))
            assert not bare.search(text), file.name
