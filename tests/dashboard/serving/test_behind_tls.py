"""The server behind a proxy that speaks TLS: cookies, websocket, hosts, the club's sign-in."""

from __future__ import annotations

import ssl
from pathlib import Path

import httpx2 as httpx
import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Subprotocol

from dashboard.serving.gate import SESSION_COOKIE
from db.file.store import Store
from db.people.accounts import set_email
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import cookie_header, post_form, serving
from tests.dashboard.openid_provider import running_club
from tests.dashboard.sign_in.test_club_sign_in import settings_file
from tests.dashboard.tls_proxy import tls_in_front_of, write_certificate
from tests.patience import PATIENCE_SECONDS

HOST = "localhost"


def websocket_status(address: str, trusted: ssl.SSLContext, headers: dict[str, str]) -> int:
    url = address.replace("https", "wss") + "/_stcore/stream"
    subprotocols = [Subprotocol("streamlit")]
    try:
        with connect(url, ssl=trusted, additional_headers=headers, subprotocols=subprotocols):
            return 101
    except InvalidStatus as refusal:
        return refusal.response.status_code


@pytest.mark.usefixtures("closed_in_between")
def test_everything_works_behind_tls(empty_store: Store, tmp_path: Path) -> None:
    set_email(empty_store, "carl", "carl@club.example", "dora")
    certificate = tmp_path / "proxy.pem"
    write_certificate(certificate, HOST)
    trusted = ssl.create_default_context(cafile=str(certificate))
    with running_club() as club:
        settings = settings_file(tmp_path, club.address)
        with serving(empty_store.path, "--club-sign-in", str(settings)) as server:
            behind = int(server.address.rpartition(":")[2])
            with tls_in_front_of(behind, certificate) as port:
                address = f"https://{HOST}:{port}"
                _sign_in_and_look(address, trusted)
                _sign_in_by_the_club(address, trusted)


def _sign_in_and_look(address: str, trusted: ssl.SSLContext) -> None:
    origin = {"Origin": address}
    with httpx.Client(
        base_url=address, verify=trusted, headers=origin, timeout=PATIENCE_SECONDS
    ) as client:
        response = post_form(client, {"name": "dora", "password": PASSWORD})
        cookies = response.headers.get_list("set-cookie")
        assert response.status_code == 303
        assert all("; Secure" in cookie and "; HttpOnly" in cookie for cookie in cookies)
        assert client.get("/").status_code == 200
        theirs = client.get("/_stcore/health").headers.get_list("set-cookie")
        assert [cookie.partition("=")[0] for cookie in theirs] == ["_streamlit_xsrf"]
        assert theirs[0].endswith("; Secure")
        cookie = {"Cookie": cookie_header(client)}
        plain = {"Origin": address.replace("https", "http")}
        assert websocket_status(address, trusted, cookie | origin) == 101
        assert websocket_status(address, trusted, cookie | plain) == 403
        assert websocket_status(address, trusted, origin) == 403
        assert client.post("/signin", headers=plain).status_code == 403
        assert client.get("/signin", headers={"Host": "evil.example"}).status_code == 400


def _sign_in_by_the_club(address: str, trusted: ssl.SSLContext) -> None:
    with httpx.Client(base_url=address, verify=trusted, timeout=PATIENCE_SECONDS) as client:
        page = client.get("/signin/club", follow_redirects=True)
        assert (page.status_code, str(page.url)) == (200, f"{address}/")
        assert SESSION_COOKIE in client.cookies
