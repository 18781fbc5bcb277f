"""Addresses of no page get one sentence and the way back; people's own pages open as usual."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from dashboard.app.routes import ROUTES
from dashboard.screen.menu import PLACES
from dashboard.serving.gate import Gate
from db.file.store import Store
from tests.dashboard.test_hostile_addresses import enter_as

TOLD = "No page for you here"


async def application(_request: Request) -> PlainTextResponse:
    return PlainTextResponse("Streamlit")


@pytest.fixture
def client(filled_store: Store) -> Iterator[TestClient]:
    routes = [*ROUTES, Route("/{path:path}", application)]
    with TestClient(
        Starlette(routes=routes, middleware=[Middleware(Gate)]),
        headers={"Accept": "text/html"},
        follow_redirects=False,
    ) as client:
        yield client


@pytest.mark.parametrize(
    ("name", "role"), [("dora", "director"), ("carl", "coach"), ("long.one", "athlete")]
)
def test_people_are_told_that_an_address_is_no_page_of_theirs(
    client: TestClient, filled_store: Store, name: str, role: str
) -> None:
    enter_as(client, filled_store, name)
    for place in PLACES:
        answer = client.get(f"/{place.address}?athlete=A1")
        mine = role in place.roles
        assert (answer.text == "Streamlit") == mine, place
        assert (TOLD in answer.text, answer.status_code == 404) == (not mine, not mine), place
    for unknown in ("/squadd", "/Squad", "/before_session"):
        answer = client.get(unknown)
        assert answer.status_code == 404 and TOLD in answer.text and 'href="/"' in answer.text


def test_streamlits_other_addresses_are_left_to_it(client: TestClient, filled_store: Store) -> None:
    enter_as(client, filled_store, "dora")
    for path in ("/", "/home", "/media/a.csv", "/static/js/a.js", "/_stcore/health", "/icon.png"):
        assert client.get(path).text == "Streamlit", path
    assert client.get("/squadd", headers={"Accept": "*/*"}).text == "Streamlit"
