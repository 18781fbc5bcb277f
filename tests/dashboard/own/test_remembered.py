"""What the athlete's page remembers between visits: nobody else's data, and nothing outdated."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from functools import wraps
from typing import Any

import duckdb
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient

from dashboard.athlete.private_links import make_link
from dashboard.fits import usual_terms
from dashboard.own import routes as own_routes
from dashboard.own.facts import OwnFacts
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import OWN_PATH, SESSION_COOKIE, Gate
from db.file import connection
from db.file.settings import set_setting
from db.file.store import Store
from db.fits.advice_bases import AdviceBase
from db.people.accounts import get_person
from db.people.athlete_views import note_view
from db.privacy.erasing import erase_athlete
from tests.dashboard.conftest import copied

PAGE = {"Accept": "text/html"}


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The athletes whose facts are read from the store, in order."""
    asked: list[str] = []
    facts = own_routes.own_facts

    @wraps(facts)
    def noted(own: Store, athlete: str, today: date) -> OwnFacts:
        asked.append(athlete)
        return facts(own, athlete, today)

    monkeypatch.setattr(own_routes, "own_facts", noted)
    return asked


@pytest.fixture
def client(
    filled_store: Store, monkeypatch: pytest.MonkeyPatch, read: list[str]
) -> Iterator[TestClient]:
    monkeypatch.setenv("WARMCURVE_DB", str(filled_store.path))
    app = Starlette(routes=own_routes.routes, middleware=[Middleware(Gate)])
    yield TestClient(app, follow_redirects=False)


def sign_in(client: TestClient, store: Store, name: str = "long.one") -> None:
    person = get_person(store, name)
    assert person is not None
    client.cookies.set(SESSION_COOKIE, open_session(store, person))


def own(client: TestClient) -> str:
    answer = client.get(OWN_PATH, headers=PAGE)
    assert answer.status_code == 200
    return answer.text


def test_a_second_visit_reads_nothing_until_something_is_written(
    client: TestClient, filled_store: Store, read: list[str]
) -> None:
    sign_in(client, filled_store)
    assert own(client) == own(client)
    assert read == ["A1"]
    set_setting(filled_store, "club_name", "Another Club", "test")
    assert "Another Club" in own(client)
    assert read == ["A1", "A1"]


@pytest.mark.usefixtures("closed_in_between")
def test_each_visit_opens_the_file_once(
    client: TestClient, filled_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign_in(client, filled_store)
    opened: list[str] = []
    connect = connection.connect

    def noted(*args: Any) -> duckdb.DuckDBPyConnection:
        opened.append("the file")
        return connect(*args)

    assert client.get("/nowhere", headers=PAGE).status_code == 404, "by now it is known who asks"
    monkeypatch.setattr(connection, "connect", noted)
    for visits in (1, 2):
        own(client)
        assert len(opened) == visits


def test_one_visit_reads_the_terms_of_a_fit_once(
    client: TestClient, filled_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign_in(client, filled_store)
    asked: list[str] = []
    base = usual_terms.advice_base

    def noted(store: Store, measure: str, fit_id: int | None = None) -> AdviceBase | None:
        asked.append(measure)
        return base(store, measure, fit_id)

    monkeypatch.setattr(usual_terms, "advice_base", noted)
    own(client)
    assert asked == ["jump_height"]


def test_a_new_view_shows_at_once_without_reading_the_facts_again(
    client: TestClient, filled_store: Store, read: list[str]
) -> None:
    sign_in(client, filled_store)
    assert "Nobody has opened a page about you" in own(client)
    note_view(filled_store, "A1", "carl", date.today())
    assert "Carl Coach on 1 day" in own(client)
    assert read == ["A1"]


def test_nobody_is_shown_what_was_remembered_for_another_visitor(
    client: TestClient, filled_store: Store, read: list[str]
) -> None:
    sign_in(client, filled_store)
    link, other_link = (make_link(filled_store, code, 7, "carl") for code in ("A1", "A2"))
    signed = own(client)
    by_link, other = client.get(link).text, client.get(other_link).text
    assert "Long One" in signed and "Your sessions" in signed
    assert "Long One" in by_link and "Your sessions" not in by_link
    assert "Short Two" in other and "Long One" not in other
    assert client.get(link).text == by_link and own(client) == signed
    sign_in(client, filled_store, "untested")
    assert "Untested Five" in own(client) and "Long One" not in own(client)


def test_nothing_is_left_of_an_erased_athlete(client: TestClient, filled_store: Store) -> None:
    link = make_link(filled_store, "A1", 7, "carl")
    sign_in(client, filled_store)
    assert "Long One" in own(client) and "Long One" in client.get(link).text
    erase_athlete(filled_store, "A1", "dora")
    assert client.get(link).status_code == 404
    assert client.get(OWN_PATH, headers=PAGE).headers["Location"].startswith("/signin")


def test_another_store_at_the_same_path_shows_its_own_data(
    client: TestClient, filled_store: Store, tmp_path_factory: pytest.TempPathFactory
) -> None:
    sign_in(client, filled_store)
    other = copied(filled_store.path, tmp_path_factory.mktemp("other"))
    for store, name in ((filled_store, "First Club"), (other, "Second Club")):
        set_setting(store, "club_name", name, "test")
    assert filled_store.revision() == other.revision()
    assert "First Club" in own(client)
    shutil.move(other.path, filled_store.path)
    assert "Second Club" in own(client) and "First Club" not in own(client)
