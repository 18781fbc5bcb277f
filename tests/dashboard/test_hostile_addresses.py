"""Addresses that no page links to get a sentence or a file, never an error."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.app import downloads
from dashboard.app.downloads import OFFERED, Download
from dashboard.own import routes as own_routes
from dashboard.screen.menu import file_of
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from dashboard.sign_in import club_sign_in, pages
from db.file.store import Store
from db.people.accounts import get_person
from db.plans.games import save_game
from tests.dashboard.conftest import SignIn, fill, new_store
from tests.dashboard.conftest import open_session as new_session
from tests.db.plans.test_games import GAME
from tests.patience import PATIENCE_SECONDS

RUN_TEST = Path(dashboard.__file__).parent / file_of("run_test")
TEXTS = ["", "none", "x" * 3000, "\x00", "../../etc/passwd", "'; DROP TABLE effort; --", "A1\n"]
DAYS = ["", "now", "9999-12-31", "0001-01-01", "2026-02-30", "٢٠٢٦-٠٣-٠١", "1e9", "-1", "\x00"]
NUMBERS = ["", "-1", "0", "9" * 30, "9" * 5000, "²", "1.5", "nan", "٣", "\x00"]
HOSTILE = {
    "day": DAYS,
    "week": DAYS,
    "against": DAYS,
    "measure": TEXTS,
    "athlete": TEXTS,
    "code": TEXTS,
    "plan": NUMBERS,
}
RIGHT = {"day": str(GAME.day), "week": str(GAME.day), "measure": GAME.measure, "athlete": "A1"}
USED = {
    "/download/export/{what}.{ending}": ["measure"],
    "/download/sheet.pdf": ["day", "measure"],
    "/download/game.{ending}": ["day", "measure"],
    "/download/training.{ending}": ["day", "measure"],
    "/download/my-game.{ending}": ["day", "measure", "athlete", "code"],
    "/download/session-plan.pdf": ["plan"],
    "/download/week.pdf": ["week", "against", "measure"],
    "/download/exercises.csv": [],
    "/download/sample-efforts.csv": [],
    "/download/athlete.zip": ["athlete"],
    "/download/my-curve.csv": ["measure", "athlete", "code"],
    "/download/my-data.zip": ["athlete", "code"],
}
NO_SUCH = ["xlsx", "x" * 300, "%00", "csv.csv", "CSV"]
ADDRESSES = [
    *(f"/download/export/responses.{ending}" for ending in NO_SUCH),
    *(f"/download/export/{what}.csv" for what in NO_SUCH),
    *(f"/download/game.{ending}?day={GAME.day}&measure={GAME.measure}" for ending in NO_SUCH),
    *(f"/download/training.{ending}?day={GAME.day}&measure={GAME.measure}" for ending in NO_SUCH),
    *(f"/curve/{token}" for token in ("x" * 20, "x" * 100, "-" * 43)),
]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("hostile") / "club.duckdb")
    fill(store)
    save_game(store, GAME, "test")
    return store


@pytest.fixture(scope="module")
def client(store: Store) -> Iterator[TestClient]:
    application = Starlette(
        routes=[*pages.routes, *club_sign_in.routes, *downloads.routes(), *own_routes.routes],
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    with store.kept_open(), TestClient(application, follow_redirects=False) as client:
        yield client


@pytest.fixture(autouse=True)
def served(_own_store: None, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(store.path))


def check_sentence(client: TestClient, address: str) -> None:
    answer = client.get(address)
    shown = re.sub(r"(?s)<style>.*?</style>|<[^>]+>", " ", answer.text)
    assert 400 <= answer.status_code < 500, (address[:200], answer.status_code, shown)
    assert re.search(r"[A-Z][^.]{10,}\.", shown), (address, shown)


def enter_as(client: TestClient, store: Store, name: str) -> None:
    person = get_person(store, name)
    assert person is not None
    client.cookies.set(SESSION_COOKIE, open_session(store, person))


def test_every_download_is_tried() -> None:
    assert {download.path for download in OFFERED} == set(USED)


@pytest.mark.parametrize("download", OFFERED, ids=lambda download: download.path)
def test_a_download_answers_hostile_words_in_a_sentence(
    download: Download, client: TestClient, store: Store
) -> None:
    enter_as(client, store, "dora" if "director" in download.roles else "long.one")
    path = download.path.format(what="responses", ending="csv")
    if "my-game" in path:
        path = path.replace("csv", "ics")
    for word in USED[download.path]:
        for value in HOSTILE[word]:
            check_sentence(client, f"{path}?{urlencode(RIGHT | {word: value})}")
        if word in ("day", "week", "plan"):
            left = {name: value for name, value in RIGHT.items() if name != word}
            check_sentence(client, f"{path}?{urlencode(left)}")


@pytest.mark.parametrize("address", ADDRESSES)
def test_an_address_of_nothing_answers_in_a_sentence(
    address: str, client: TestClient, store: Store
) -> None:
    enter_as(client, store, "dora")
    check_sentence(client, address)


@pytest.mark.parametrize("path", ["/signin", "/signin/club", "/signin/club/return"])
def test_the_sign_in_page_shows_whatever_the_address_says(path: str, client: TestClient) -> None:
    client.cookies.clear()
    for word in ("next", "state", "code", "iss", "error"):
        for value in [*TEXTS, "//other.example", "/\\other.example", "\r\nSet-Cookie: a=b"]:
            answer = client.get(f"{path}?{urlencode({word: value})}")
            assert answer.status_code in (200, 403, 404), (word, value[:20])
            assert "Sign in" in answer.text or "director" in answer.text
            assert "other.example" not in answer.headers.get("location", "")


@pytest.mark.parametrize(
    ("name", "scripts"),
    [("dora", ["week", "athlete", "run_test", "squad"]), ("long.one", ["my_warm_up"])],
)
def test_pages_ignore_hostile_words_in_their_address(
    name: str,
    scripts: list[str],
    filled_store: Store,
    sign_in: SignIn,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(filled_store.path))
    application = sign_in(filled_store, name)
    words = [*HOSTILE, "week_against", "test_athletes", "test_kind", "test_volume", "before"]
    for number, script in enumerate(scripts):
        for word in words:
            values = HOSTILE.get(word, TEXTS + NUMBERS)
            application.query_params[word] = values[number % len(values)]
        application.switch_page(file_of(script)).run()
        assert not application.exception and application.title, script


@pytest.mark.parametrize("number", NUMBERS)
def test_a_hostile_test_number_still_opens_the_page(
    number: str, filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(filled_store.path))
    application = AppTest.from_file(RUN_TEST, default_timeout=PATIENCE_SECONDS)
    application.user = {"person": "carl", "sid": new_session(filled_store, "carl")}
    application.query_params["test"] = application.query_params["test_volume"] = number
    with filled_store.kept_open():
        application.run()
    assert not application.exception
    assert application.title[0].value == "Run a test"
