"""Our own routes, broken on purpose: they answer with a sentence, a number and our headers."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Iterator

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from dashboard.app import downloads, routes
from dashboard.app.routes import ROUTES
from dashboard.core import failures
from dashboard.own import home_screen
from dashboard.own import routes as own_routes
from dashboard.screen.web_sessions import open_session
from dashboard.serving import gate, unknown_addresses
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from dashboard.sign_in import club_sign_in, pages
from db.file.store import Store
from db.people.accounts import get_person
from modeling.errors import ModelError
from tests.dashboard.conftest import new_store

SECRET = "Name of Somebody"
FILLED_IN = {"what": "responses", "ending": "csv", "token": "a" * 43, "name": "nowhere"}


async def half(_request: Request) -> Response:
    async def pieces() -> AsyncIterator[str]:
        yield "half of "
        raise KeyError(SECRET)

    return StreamingResponse(pieces())


def unmodelled(_request: Request) -> Response:
    raise ModelError("Two athletes are not enough.")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return new_store(tmp_path_factory.mktemp("routes") / "club.duckdb")


@pytest.fixture
def client(store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    monkeypatch.setenv("WARMCURVE_DB", str(store.path))
    monkeypatch.setattr(failures, "_logged_at", {})
    application = Starlette(
        routes=[*ROUTES, Route("/half", half), Route("/unmodelled", unmodelled)],
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    person = get_person(store, "dora")
    assert person is not None
    with store.kept_open(), TestClient(application, follow_redirects=False) as client:
        client.cookies.set(SESSION_COOKIE, open_session(store, person))
        yield client


def broken(*_: object, **__: object) -> None:
    raise KeyError(SECRET)


def check_told(answer: Response, log: str) -> None:
    assert answer.status_code == 500
    assert "A fault in warmcurve stopped this. Everything saved is safe." in answer.text
    found = re.search(r"report fault (\d{6})", answer.text)
    assert found is not None
    assert re.search(rf"(?m)^\d{{4}}-\S+ Fault {found[1]}\nTraceback ", log)
    assert SECRET not in log and SECRET not in answer.text
    assert "default-src 'self'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: route.path)
def test_every_broken_route_shows_the_fault_number_that_is_in_the_log(
    route: Route,
    client: TestClient,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    for module in (pages, downloads, own_routes):
        monkeypatch.setattr(module, "running_store", broken)
    monkeypatch.setattr(club_sign_in, "used_provider", broken)
    monkeypatch.setattr(routes, "default_path", broken)
    for answers in ("JSONResponse", "FileResponse"):
        monkeypatch.setattr(home_screen, answers, broken)
    monkeypatch.setattr(unknown_addresses, "page", broken)
    answer = client.get(route.path.format(**FILLED_IN), headers={"Accept": "text/html"})
    check_told(answer, capsys.readouterr().err)


def test_a_broken_gate_shows_its_fault_too(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(gate, "person_of", broken)
    check_told(client.get("/anything"), capsys.readouterr().err)


def test_half_an_answer_is_not_passed_off_as_a_whole_one(client: TestClient) -> None:
    with pytest.raises(KeyError):
        client.get("/half")


def test_an_expected_error_is_told_in_its_own_words(
    client: TestClient, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = client.get("/unmodelled")
    assert answer.status_code == 400
    assert "Two athletes are not enough." in answer.text
    assert capsys.readouterr().err == ""
