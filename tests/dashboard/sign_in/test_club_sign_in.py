"""Signing in with the club's account, from end to end, against a provider run here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

import httpx2 as httpx
import pytest
from joserfc.jwk import OctKey, RSAKey
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from dashboard.screen.web_sessions import session_id
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.sign_in import club_sign_in, openid, pages
from dashboard.sign_in.attempts import Attempts
from dashboard.sign_in.club_provider import WrongSettings, read_provider, use_provider
from db.file.store import Store
from db.people.accounts import person_of_web_session, set_active, set_email, set_role
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import post_form, serving
from tests.dashboard.openid_provider import CLIENT_SECRET, KEY, Club, running_club
from tests.patience import PATIENCE_SECONDS

CARL = "carl@club.example"
REFUSED = "Test Club did not prove who you are, and nobody was signed in."


async def home(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"home of {request.headers['X-Warmcurve-Person']}")


@pytest.fixture(scope="module")
def running() -> Iterator[Club]:
    with running_club() as club:
        yield club


@pytest.fixture
def club(running: Club, monkeypatch: pytest.MonkeyPatch) -> Iterator[Club]:
    """The provider in its first state, used by the dashboard."""
    running.__dict__.update(Club(address=running.address).__dict__)
    openid._descriptions.clear()
    monkeypatch.setattr(club_sign_in, "club_attempts", Attempts())
    use_provider(running.provider)
    yield running
    use_provider(None)


@pytest.fixture
def store(empty_store: Store) -> Store:
    set_email(empty_store, "carl", CARL, "dora")
    return empty_store


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    application = Starlette(
        routes=[*pages.routes, *club_sign_in.routes, Route("/{path:path}", home)],
        middleware=[Middleware(Gate)],
    )
    headers = {"Origin": "http://testserver", "Accept": "text/html"}
    with (
        store.kept_open(),
        TestClient(application, follow_redirects=False, headers=headers) as client,
    ):
        yield client


def go(client: httpx.Client, wanted: str = "") -> str:
    """Press the button, and return the provider's address that it leads to."""
    response = client.get("/signin/club", params={"next": wanted} if wanted else {})
    assert response.status_code == 303, response.text
    return response.headers["location"]


def enter(client: httpx.Client, club: Club, wanted: str = "") -> httpx.Response:
    return client.get(club.sign_in(go(client, wanted)))


def told(response: httpx.Response) -> str:
    said = re.search(r'role="alert">([^<]+)', response.text)
    assert said is not None, response.text
    return said[1].replace("&#39;", "'")


def bent(address: str, **changes: str) -> str:
    query = dict(parse_qsl(urlsplit(address).query)) | changes
    return f"{address.partition('?')[0]}?{urlencode(query)}"


def test_a_person_the_club_vouches_for_gets_to_the_page_they_wanted(
    club: Club, client: TestClient
) -> None:
    page = client.get("/signin?next=/athlete?athlete=A1").text
    button = re.search(r'href="(/signin/club[^"]+)">Sign in with Test Club<', page)
    assert button is not None
    response = client.get(club.sign_in(client.get(button[1]).headers["location"]))
    assert response.status_code == 303
    assert response.headers["location"] == "/athlete?athlete=A1"
    assert client.get("/page").text == "home of carl"
    assert set(client.cookies) == {"warmcurve_form", SESSION_COOKIE, "warmcurve_browser"}


def test_cookies_are_out_of_reach_of_scripts_and_secure_behind_tls(
    club: Club, client: TestClient
) -> None:
    client.base_url = httpx.URL("https://testserver")
    away = client.get("/signin/club")
    back = client.get(club.sign_in(away.headers["location"]))
    assert "redirect_uri=https%3A%2F%2Ftestserver%2F" in away.headers["location"]
    kept = [line for line in back.headers.get_list("set-cookie") if "Max-Age=0" not in line]
    for line in [*away.headers.get_list("set-cookie"), *kept]:
        assert {"httponly", "secure", "samesite=lax"} <= set(line.lower().split("; "))
    assert len(kept) == 2


def test_the_address_may_come_separately_from_the_token(club: Club, client: TestClient) -> None:
    club.email_in_token = False
    assert enter(client, club).status_code == 303
    assert club.asked.count("/person") == 1


@pytest.mark.parametrize("changes", [{"state": "0" * 64}, {"state": ""}, {"state": "é"}])
def test_a_wrong_state_lets_nobody_in_and_asks_nothing(
    club: Club, client: TestClient, changes: dict[str, str]
) -> None:
    back = bent(club.sign_in(go(client)), **changes)
    club.asked.clear()
    response = client.get(back)
    assert (response.status_code, club.asked) == (403, [])
    assert "has expired" in told(response)
    assert SESSION_COOKIE not in client.cookies


def test_another_browser_s_answer_lets_nobody_in(club: Club, client: TestClient) -> None:
    back = club.sign_in(go(client))
    client.cookies.clear()
    assert "has expired" in told(client.get(back))
    go(client)
    assert "has expired" in told(client.get(back))


def test_a_code_works_once(club: Club, client: TestClient) -> None:
    back = club.sign_in(go(client))
    away = client.cookies["warmcurve_away"]
    assert client.get(back).status_code == 303
    client.cookies.clear()
    client.cookies.set("warmcurve_away", away)
    response = client.get(back)
    assert (response.status_code, SESSION_COOKIE in client.cookies) == (403, False)
    assert REFUSED in told(response)


@pytest.mark.parametrize("what", ["nonce", "code_challenge"])
def test_a_wrong_nonce_or_challenge_lets_nobody_in(
    club: Club, client: TestClient, what: str
) -> None:
    response = client.get(club.sign_in(bent(go(client), **{what: "of somebody else"})))
    assert (response.status_code, SESSION_COOKIE in client.cookies) == (403, False)
    assert REFUSED in told(response)


def test_a_stolen_code_lets_nobody_in(club: Club, client: TestClient) -> None:
    stolen = dict(parse_qsl(urlsplit(club.sign_in(go(client))).query))["code"]
    response = client.get(bent(club.sign_in(go(client)), code=stolen))
    assert REFUSED in told(response)


OTHER_KEY = RSAKey.generate_key(2048, {"kid": "first"})
FORGERIES: dict[str, tuple[dict[str, Any], str]] = {
    "signed by another": ({"key": OTHER_KEY}, "bad_signature"),
    "signed by a key that is not published": (
        {"header": {"alg": "RS256", "kid": "second"}},
        "No key for kid",
    ),
    "signed with the secret": (
        {"header": {"alg": "HS256"}, "key": OctKey.import_key(CLIENT_SECRET * 2)},
        "'HS256' is not allowed",
    ),
    "signed with the public key": (
        {
            "header": {"alg": "HS256", "kid": "first"},
            "key": OctKey.import_key(KEY.as_pem(private=False).replace(b"-", b"")),
        },
        "'HS256' is not allowed",
    ),
    "not signed": ({"header": {"alg": "none"}}, "'none' is not allowed"),
    "of another issuer": ({"claims": {"iss": "https://evil.example"}}, "'iss'"),
    "for another": ({"claims": {"aud": "another"}}, "'aud'"),
    "for another too, who used it": (
        {"claims": {"aud": ["warmcurve-test", "another"], "azp": "another"}},
        "'azp'",
    ),
    "expired": ({"claims": {"exp": 1_700_000_000}}, "expired"),
    "without an end": ({"claims": {"exp": None}}, "'exp'"),
    "of the future": ({"claims": {"iat": 4_000_000_000}}, "issued in the future"),
    "without a nonce": ({"claims": {"nonce": None}}, "'nonce'"),
    "of another access token": ({"claims": {"at_hash": "c29tZXRoaW5nIGVsc2U"}}, "'at_hash'"),
}


@pytest.mark.parametrize("name", FORGERIES)
def test_a_token_that_proves_nothing_lets_nobody_in(
    club: Club, client: TestClient, name: str, caplog: pytest.LogCaptureFixture
) -> None:
    changes, reason = FORGERIES[name]
    club.__dict__.update(changes)
    response = enter(client, club)
    assert (response.status_code, SESSION_COOKIE in client.cookies) == (403, False)
    assert REFUSED in told(response)
    assert reason in caplog.text.replace("\\", "")


def test_a_separate_address_must_be_of_the_same_person(club: Club, client: TestClient) -> None:
    club.email_in_token = False
    club.claims = {"sub": "8"}
    assert REFUSED in told(enter(client, club))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"email_verified": False}, "has not checked that Carl@Club.example is your address"),
        ({"email_verified": "true"}, "has not checked that Carl@Club.example"),
        ({"email_verified": None}, "has not checked that Carl@Club.example"),
        ({"email": None}, "did not say which e-mail address"),
        ({"email": ["carl@club.example"]}, "did not say which e-mail address"),
        ({"email": "eve@club.example"}, "No active account goes with eve@club.example. Ask your"),
        ({"email": "carl@cluſ.example"}, "No active account goes with carl@cluſ.example"),
        ({"email": "' OR 1=1 --"}, "No active account goes with '"),
    ],
)
def test_only_a_verified_and_known_address_signs_in(
    club: Club, client: TestClient, changes: dict[str, Any], sentence: str
) -> None:
    club.person |= changes
    response = enter(client, club)
    assert (response.status_code, SESSION_COOKIE in client.cookies) == (403, False)
    assert sentence in told(response)


def test_a_missing_address_gets_its_own_sentence(club: Club, client: TestClient) -> None:
    del club.person["email"]
    assert "did not say which e-mail address" in told(enter(client, club))


def test_letters_that_are_alike_only_in_lower_case_are_another_address(
    store: Store, club: Club, client: TestClient
) -> None:
    set_email(store, "carl", "kim@club.example", "dora")
    club.person["email"] = "\u212aim@club.example"  # the kelvin sign, a k in lower case
    assert club.person["email"].lower() == "kim@club.example"
    assert "No active account goes with" in told(enter(client, club))


def test_a_deactivated_person_is_signed_out_and_stays_out(
    store: Store, club: Club, client: TestClient
) -> None:
    enter(client, club)
    assert client.get("/page").status_code == 200
    set_active(store, "carl", False, "dora")
    assert client.get("/page").headers["location"].startswith("/signin")
    assert f"No active account goes with {'Carl@Club.example'}" in told(enter(client, club))


@pytest.mark.parametrize(
    "change",
    [
        lambda store: set_role(store, "carl", "director", "dora"),
        lambda store: set_email(store, "carl", "carl@other.example", "dora"),
        lambda store: set_email(store, "carl", None, "dora"),
    ],
)
def test_a_changed_role_or_address_ends_the_session(
    store: Store, club: Club, client: TestClient, change: Callable[[Store], None]
) -> None:
    enter(client, club)
    sid = session_id(client.cookies[SESSION_COOKIE])
    change(store)
    assert client.get("/page").headers["location"].startswith("/signin")
    assert person_of_web_session(store, sid, datetime.now(UTC)) is None


def test_the_cookie_is_worth_nothing_after_signing_out(club: Club, client: TestClient) -> None:
    enter(client, club)
    kept = client.cookies[SESSION_COOKIE]
    token = re.search(r'form_token" value="([^"]+)', client.get("/signout").text)
    assert token is not None
    client.post("/signout", data={"form_token": token[1]})
    client.cookies.clear()
    replayed = {"Cookie": f"{SESSION_COOKIE}={kept}", "Accept": "*/*"}
    assert client.get("/page", headers=replayed).status_code == 401


def test_signing_in_again_ends_the_earlier_session_of_this_browser(
    club: Club, client: TestClient
) -> None:
    enter(client, club)
    first = client.cookies[SESSION_COOKIE]
    enter(client, club)
    client.cookies.clear()
    stale = {"Cookie": f"{SESSION_COOKIE}={first}", "Accept": "*/*"}
    assert client.get("/page", headers=stale).status_code == 401


@pytest.mark.parametrize(
    "wanted", ["//evil.example", "https://evil.example", "/\\evil.example", "/signout", "evil"]
)
def test_signing_in_leads_back_only_to_our_own_pages(
    club: Club, client: TestClient, wanted: str
) -> None:
    assert enter(client, club, wanted).headers["location"] == "/"
    address = go(client)
    secret = client.cookies["warmcurve_away"].partition(".")[0]
    client.cookies.clear()
    client.cookies.set("warmcurve_away", f"{secret}.{wanted}")
    assert client.get(club.sign_in(address)).headers["location"] == "/"


def test_a_person_who_turns_back_at_the_provider_is_told_so(club: Club, client: TestClient) -> None:
    club.refuses = "access_denied"
    response = client.get(club.sign_in(go(client)) + "&error_description=call+0800")
    assert (response.status_code, "0800" in response.text) == (401, False)
    assert "Test Club did not sign you in." in told(response)


def test_an_answer_in_another_provider_s_name_is_refused(club: Club, client: TestClient) -> None:
    response = client.get(club.sign_in(go(client)) + "&iss=https://evil.example")
    assert "Another provider answered" in told(response)


SILENCES: dict[str, dict[str, Any]] = {
    "down": {"address": "http://127.0.0.1:9"},
    "of another issuer": {"description": {"issuer": "https://evil.example"}},
    "to be asked without TLS": {"description": {"authorization_endpoint": "http://evil.example"}},
    "to be asked by a script": {"description": {"authorization_endpoint": "javascript:alert(1)"}},
    "without an address": {"description": {"authorization_endpoint": None}},
}


@pytest.mark.parametrize("name", SILENCES)
def test_passwords_still_work_without_the_provider(
    club: Club, client: TestClient, name: str
) -> None:
    address = club.address
    club.__dict__.update(SILENCES[name])
    use_provider(club.provider)
    club.address = address
    response = client.get("/signin/club")
    assert response.status_code == 503
    assert "Test Club does not answer at the moment. Sign in with a name" in told(response)
    assert post_form(client, {"name": "dora", "password": PASSWORD}).status_code == 303


@pytest.mark.parametrize("place", ["token_endpoint", "jwks_uri", "userinfo_endpoint"])
@pytest.mark.parametrize("address", ["http://evil.example/", "http://127.0.0.1:9/", None])
def test_a_provider_that_stops_answering_midway_is_reported(
    club: Club, client: TestClient, place: str, address: str | None
) -> None:
    club.email_in_token = False
    club.description = {place: address}
    response = enter(client, club)
    assert (response.status_code, SESSION_COOKIE in client.cookies) == (503, False)
    assert "does not answer at the moment" in told(response)


def test_a_silent_provider_is_not_asked_at_every_click(club: Club, client: TestClient) -> None:
    club.description = {"issuer": "https://evil.example"}
    assert [client.get("/signin/club").status_code for _ in range(3)] == [503] * 3
    assert len(club.asked) == 1


def test_repeated_attempts_at_the_provider_are_slowed_down(
    club: Club, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(club_sign_in, "FREE_ATTEMPTS_OF_MANY", 3)
    club.person["email_verified"] = False
    statuses = [enter(client, club).status_code for _ in range(3)]
    response = enter(client, club)
    assert statuses == [403] * 3
    assert (response.status_code, response.headers["retry-after"]) == (429, "2")
    assert "Too many attempts. Wait 2 seconds, then try again." in told(response)
    assert post_form(client, {"name": "dora", "password": PASSWORD}).status_code == 303


def test_without_a_provider_there_is_no_button_and_no_route(client: TestClient) -> None:
    assert "/signin/club" not in client.get("/signin").text
    for path in ("/signin/club", "/signin/club/return?code=1&state=2"):
        response = client.get(path)
        assert response.status_code == 404
        assert "no sign-in by the club here" in told(response)


def settings_file(folder: Path, issuer: str, mode: int = 0o600, **changes: str) -> Path:
    settings = {
        "issuer": issuer,
        "client_id": "warmcurve-test",
        "client_secret": CLIENT_SECRET,
        "label": "Test Club",
    } | changes
    path = folder / "club.toml"
    path.write_text("".join(f'{name} = "{value}"\n' for name, value in settings.items()))
    path.chmod(mode)
    return path


def test_settings_come_from_a_file_and_do_not_show_the_secret(tmp_path: Path, club: Club) -> None:
    provider = read_provider(settings_file(tmp_path, club.address))
    assert provider == club.provider
    assert CLIENT_SECRET not in repr(provider)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"mode": 0o640}, "other accounts of this machine can open it.*chmod 600"),
        ({"mode": 0o604}, "other accounts of this machine can open it.*chmod 600"),
        ({"issuer": "http://login.club.example"}, "begins with https://"),
        ({"issuer": "login.club.example"}, "begins with https://"),
        ({"issuer": "https://["}, "begins with https://"),
        ({"label": " "}, "needs a line: label ="),
        ({"secret": "x"}, "has a setting 'secret'; there are issuer, client_id"),
        ({"label": 'x"y'}, "cannot be understood"),
    ],
)
def test_settings_that_cannot_be_used_say_why(
    tmp_path: Path, changes: dict[str, Any], sentence: str
) -> None:
    path = settings_file(tmp_path, **{"issuer": "https://login.club.example", **changes})
    with pytest.raises(WrongSettings, match=sentence) as refusal:
        read_provider(path)
    assert CLIENT_SECRET not in refusal.value.message


def test_a_missing_settings_file_is_reported(tmp_path: Path) -> None:
    with pytest.raises(WrongSettings, match="cannot be read: No such file"):
        read_provider(tmp_path / "none.toml")


@pytest.mark.usefixtures("closed_in_between")
def test_live_sign_in_with_the_club_s_account(store: Store, club: Club, tmp_path: Path) -> None:
    settings = settings_file(tmp_path, club.address)
    with serving(store.path, "--club-sign-in", str(settings)) as server:
        with httpx.Client(base_url=server.address, timeout=PATIENCE_SECONDS) as client:
            page = client.get("/signin/club?next=/my-account", follow_redirects=True)
            assert page.status_code == 200
            assert page.url.path == "/my-account"
            assert "streamlit" in page.text.lower()
            cookie = {"Cookie": f"{SESSION_COOKIE}={client.cookies[SESSION_COOKIE]}"}
        assert server.websocket_status(cookie | {"Origin": server.address}) == 101
        set_active(store, "carl", False, "dora")
        assert server.websocket_status(cookie | {"Origin": server.address}) == 403
        said = server.log.read_text()
    assert CLIENT_SECRET not in said and "Traceback" not in said
