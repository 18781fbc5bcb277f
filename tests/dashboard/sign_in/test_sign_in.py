from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx
import pytest
from argon2 import PasswordHasher
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import BaseRoute, Route
from starlette.testclient import TestClient

from dashboard.screen.web_sessions import session_id
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from dashboard.sign_in import accounts, pages
from dashboard.sign_in.attempts import Attempts
from dashboard.sign_in.set_up import add_first_director, set_up_code
from db.errors import BadInput
from db.file.settings import set_setting
from db.file.store import Store
from db.people.accounts import (
    Person,
    add_person,
    any_people,
    get_person,
    list_people,
    set_active,
    set_password_hash,
)
from tests.dashboard.conftest import PASSWORD, new_store
from tests.dashboard.live_server import cookie_header, post_form, serving

QUICK_HASHER = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
ORIGIN = "http://testserver"


async def home(_request: object) -> PlainTextResponse:
    return PlainTextResponse("home")


@pytest.fixture(scope="module")
def made_store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("sign-in") / "club.duckdb")
    for person in list_people(store):
        set_password_hash(store, person.person, QUICK_HASHER.hash(PASSWORD), "test")
    return store


@pytest.fixture
def store(made_store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    monkeypatch.setenv("WARMCURVE_DB", str(made_store.path))
    monkeypatch.setattr(pages, "attempts", Attempts())
    monkeypatch.setattr(accounts, "HASHER", QUICK_HASHER)
    accounts._nobodys_hash.cache_clear()
    yield made_store
    accounts._nobodys_hash.cache_clear()


@contextmanager
def at_the_gate(store: Store, routes: Sequence[BaseRoute]) -> Iterator[TestClient]:
    """Open some pages behind the gate; every other address is home."""
    application = Starlette(
        routes=[*routes, Route("/{path:path}", home)],
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    headers = {"Origin": ORIGIN, "Accept": "text/html"}
    with (
        store.kept_open(),
        TestClient(application, follow_redirects=False, headers=headers) as client,
    ):
        yield client


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    with at_the_gate(store, pages.routes) as client:
        yield client


def enter(
    client: httpx.Client, name: str = "dora", password: str = PASSWORD, **more: str
) -> httpx.Response:
    return post_form(client, {"name": name, "password": password, **more})


def test_password_lets_in_and_leads_to_the_wanted_page(client: TestClient) -> None:
    response = enter(client, next="/athlete?athlete=A1")
    assert response.status_code == 303
    assert response.headers["location"] == "/athlete?athlete=A1"
    assert client.get("/page").text == "home"


def test_session_cookie_is_out_of_reach_of_scripts_and_other_sites(client: TestClient) -> None:
    cookie = enter(client).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie


def test_session_cookie_is_secure_behind_tls(client: TestClient) -> None:
    client.base_url = httpx.URL("https://testserver")
    client.headers["Origin"] = "https://testserver"
    assert "secure" in enter(client).headers["set-cookie"].lower()


@pytest.mark.parametrize(("name", "password"), [("dora", "wrong password"), ("eve", PASSWORD)])
def test_wrong_name_and_wrong_password_get_the_same_answer(
    client: TestClient, name: str, password: str
) -> None:
    response = enter(client, name, password)
    assert response.status_code == 401
    assert "That name and password do not go together." in response.text
    assert SESSION_COOKIE not in client.cookies


def test_name_comes_back_escaped(client: TestClient) -> None:
    response = enter(client, '"><script>alert(1)</script>')
    assert "<script>" not in response.text
    assert "&lt;script&gt;" in response.text


def test_inactive_person_stays_out(store: Store, client: TestClient) -> None:
    set_active(store, "carl", False, "test")
    assert enter(client, "carl").status_code == 401
    set_active(store, "carl", True, "test")
    assert enter(client, "carl").status_code == 303


def test_every_sign_in_gets_a_new_token_and_ends_the_old_one(client: TestClient) -> None:
    enter(client)
    first = client.cookies[SESSION_COOKIE]
    page = client.get("/signin")
    assert page.status_code == 303
    client.cookies.delete(SESSION_COOKIE)
    token = re.search(r'form_token" value="([^"]+)', client.get("/signin").text)
    assert token is not None
    client.cookies.set(SESSION_COOKIE, first)
    fields = {"form_token": token[1], "name": "carl", "password": PASSWORD}
    assert client.post("/signin", data=fields).status_code == 303
    second = client.cookies.get(SESSION_COOKIE, domain="testserver.local")
    assert second not in (None, first)
    client.cookies.clear()
    stale = {"Cookie": f"{SESSION_COOKIE}={first}", "Accept": "*/*"}
    assert client.get("/page", headers=stale).status_code == 401


@pytest.mark.parametrize("token", ["", "0" * 43])
def test_form_without_its_token_is_refused(client: TestClient, token: str) -> None:
    client.get("/signin")
    fields = {"form_token": token, "name": "dora", "password": PASSWORD}
    response = client.post("/signin", data=fields)
    assert response.status_code == 403
    assert "has expired" in response.text
    assert SESSION_COOKIE not in client.cookies


def test_form_from_another_site_is_refused(client: TestClient) -> None:
    client.headers["Origin"] = "http://evil.example"
    assert enter(client).status_code == 403


@pytest.mark.parametrize(
    "wanted", ["//evil.example", "https://evil.example", "/\\evil.example", "/signout", "evil"]
)
def test_next_page_is_always_our_own(client: TestClient, wanted: str) -> None:
    assert enter(client, next=wanted).headers["location"] == "/"


def test_guessing_is_slowed_down_and_the_page_says_so(client: TestClient) -> None:
    statuses = [enter(client, password=f"guess number {n}").status_code for n in range(5)]
    assert statuses == [401] * 5
    response = enter(client)
    assert response.status_code == 429
    assert response.headers["retry-after"] == "2"
    assert "Too many attempts. Wait 2 seconds, then try again." in response.text
    assert enter(client, "carl").status_code == 303


def test_guesses_by_somebody_else_do_not_lock_out_a_known_browser(
    client: TestClient,
) -> None:
    enter(client)
    known = client.cookies["warmcurve_browser"]
    client.cookies.clear()
    statuses = [enter(client, password=f"guess number {n}").status_code for n in range(6)]
    assert statuses == [401] * 5 + [429]
    client.cookies.set("warmcurve_browser", known)
    assert enter(client, "carl", "a guess").status_code == 401
    assert enter(client).status_code == 303


@pytest.mark.parametrize("forged", ["0" * 64, "' OR 1=1 --", ""])
def test_a_made_up_browser_cookie_is_worth_nothing(client: TestClient, forged: str) -> None:
    client.cookies.set("warmcurve_browser", forged)
    statuses = [enter(client, password=f"guess number {n}").status_code for n in range(6)]
    assert statuses == [401] * 5 + [429]


def test_success_wipes_the_count(client: TestClient) -> None:
    for _ in range(3):
        enter(client, password="a wrong one")
    assert enter(client).status_code == 303
    client.cookies.clear()
    assert [enter(client, password="a wrong one").status_code for _ in range(4)] == [401] * 4


def test_too_large_a_form_is_refused(client: TestClient) -> None:
    assert enter(client, "x" * 5_000).status_code == 400


def test_sample_accounts_only_exist_in_a_demo(client: TestClient) -> None:
    response = post_form(client, {"sample": "dora"})
    assert response.status_code == 403
    assert "sample account does not exist" in response.text
    assert "invented" not in client.get("/signin").text


def test_demo_lets_in_with_one_click_only_as_its_samples(store: Store, client: TestClient) -> None:
    add_person(store, Person("coach", "Sample Coach", "coach"), "no password", "test")
    set_setting(store, "demo", "yes", "test")
    page = client.get("/signin").text
    assert "invented squad" in page
    assert re.findall('name="sample" value="([^"]+)"', page) == ["coach"]
    assert post_form(client, {"sample": "dora"}).status_code == 403
    assert post_form(client, {"sample": "coach"}).status_code == 303
    assert client.get("/page").text == "home"
    set_setting(store, "demo", "no", "test")


def test_signing_out_asks_first_and_ends_the_session(client: TestClient) -> None:
    enter(client)
    page = client.get("/signout")
    assert "You are signed in as Dora Director." in page.text
    assert client.get("/page").text == "home"
    token = re.search(r'form_token" value="([^"]+)', page.text)
    assert token is not None
    assert session_id(client.cookies[SESSION_COOKIE]) not in page.text
    response = client.post("/signout", data={"form_token": token[1]})
    assert response.headers["location"] == "/signin"
    assert client.get("/page").headers["location"].startswith("/signin")


def test_page_asks_nothing_of_other_hosts(client: TestClient) -> None:
    page = client.get("/signin").text
    outside = [link for link in re.findall(r"https?://[^'\"\s]+", page) if "w3.org" not in link]
    assert outside == []
    assert "<script" not in page
    assert "prefers-color-scheme: dark" in page
    assert "width=device-width" in page


def test_missing_store_is_reported_on_the_page(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(tmp_path / "gone.duckdb"))
    response = client.get("/signin")
    assert response.status_code == 503
    assert "There is no store at" in response.text


@pytest.fixture
def new_club(tmp_path: Path) -> Store:
    store = Store(tmp_path / "new.duckdb")
    store.create()
    return store


FIRST = {"name": "Dana", "display_name": "Dana Moor", "password": PASSWORD}


def first_director(store: Store, **changes: str) -> None:
    add_first_director(store, **{"code": set_up_code(), **FIRST, **changes})


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"code": "AAAA-AAAA-AAAA"}, "not the set-up code"),
        ({"password": "short"}, "needs at least 12"),
        ({"name": "not a name"}, "sign-in name cannot be used"),
    ],
)
def test_first_director_needs_code_name_and_password(
    new_club: Store, changes: Mapping[str, str], sentence: str
) -> None:
    with pytest.raises(BadInput, match=sentence):
        first_director(new_club, **changes)
    assert not any_people(new_club)


def test_set_up_code_works_once(new_club: Store) -> None:
    first_director(new_club, code=set_up_code().lower())
    with pytest.raises(BadInput, match="first account exists already"):
        first_director(new_club, name="eve")
    assert [person.role for person in list_people(new_club)] == ["director"]


def test_live_first_director_and_first_sign_in(tmp_path: Path) -> None:
    path = tmp_path / "fresh" / "club.duckdb"
    path.parent.mkdir()
    with serving(path) as server:
        code = re.search(r"set-up code: ([A-Z0-9-]{14})", server.log.read_text())
        assert code is not None
        with server.client() as client:
            assert "Make the first account" in client.get("/signin").text
            assert post_form(client, FIRST | {"code": "WRONG"}).status_code == 400
            response = post_form(client, FIRST | {"code": code[1]})
            assert response.status_code == 303
            assert client.get("/").status_code == 200
            cookie = cookie_header(client)
        with server.client() as other:
            assert "Make the first account" not in other.get("/signin").text
            again = post_form(other, FIRST | {"name": "eve", "code": code[1]})
            assert again.status_code == 400
            assert server.websocket_status({"Cookie": cookie, "Origin": server.address}) == 101
    person = get_person(Store(path), "dana")
    assert person is not None
    assert (person.role, person.display_name) == ("director", "Dana Moor")
