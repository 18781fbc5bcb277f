"""A private link opens one athlete's curve, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient

from dashboard.athlete import private_curve
from dashboard.athlete.private_curve import make_link
from dashboard.screen.units import keep_system
from dashboard.serving.gate import LINK_PATH, Gate
from db.file.store import Store
from db.people.private_links import private_links, revoke_link


@pytest.fixture
def client(filled_store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    monkeypatch.setenv("WARMCURVE_DB", str(filled_store.path))
    app = Starlette(routes=private_curve.routes, middleware=[Middleware(Gate)])
    yield TestClient(app, follow_redirects=False)


def test_a_link_shows_one_curve_without_signing_in(client: TestClient, filled_store: Store) -> None:
    path = make_link(filled_store, "A1", 7, "coach")
    assert path.startswith(LINK_PATH) and path.rpartition("/")[2] not in str(
        private_links(filled_store, "A1").to_dict()
    )
    answer = client.get(path)
    assert answer.status_code == 200 and answer.headers["Cache-Control"] == "no-store"
    assert "Long One" in answer.text and "Your length:" in answer.text
    assert answer.text.count("<svg") == 2  # the sign of the club, and the curve
    assert "Short Two" not in answer.text and "<script" not in answer.text
    assert "stop, whatever the screen says" in answer.text
    assert "(4.1 to 8.2)" in answer.text


def test_a_link_is_read_as_the_browser_and_the_club_read(
    client: TestClient, filled_store: Store
) -> None:
    keep_system(filled_store, "imperial", "dora")
    liked = {"Accept-Language": "en;q=0.4, de-DE, de;q=0.9"}
    text = client.get(make_link(filled_store, "A1", 7, "coach"), headers=liked).text
    assert "(4,1 to 8,2)" in text and "4.1 to 8.2" not in text
    assert re.search(r'points="\d+\.\d,\d+\.\d ', text), "a picture's points are no reader's"
    assert "at 68\u00a0°F" in text


def test_a_link_that_was_revoked_or_guessed_opens_nothing(
    client: TestClient, filled_store: Store
) -> None:
    path = make_link(filled_store, "A2", 7, "coach")
    [number] = private_links(filled_store, "A2")["link_id"]
    revoke_link(filled_store, int(number), "coach")
    for closed in (path, path[:-1] + "x"):
        answer = client.get(closed)
        assert answer.status_code == 404 and "opens nothing" in answer.text
        assert "Short Two" not in answer.text


@pytest.mark.parametrize("path", ["", "short", "a" * 30 + "/more", "%2e%2e/%2e%2e/" + "a" * 30])
def test_nothing_else_stands_open_there(client: TestClient, path: str) -> None:
    assert client.get(LINK_PATH + path).status_code in {401, 404}


def test_an_untested_athlete_is_told_what_to_do(client: TestClient, filled_store: Store) -> None:
    answer = client.get(make_link(filled_store, "A5", 7, "coach"))
    assert answer.status_code == 200 and "Ask your coach for a fade test" in answer.text
