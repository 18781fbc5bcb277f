"""An OpenID Connect provider for tests: strict about requests, free in what it answers.

It checks the client's secret, the redirect address and PKCE, and each code works only once.
"""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any
from urllib.parse import parse_qs, parse_qsl, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import RSAKey

from dashboard.sign_in.club_provider import Provider

CLIENT_ID, CLIENT_SECRET = "warmcurve-test", "a secret of the client"
KEY = RSAKey.generate_key(2048, {"kid": "first", "use": "sig"})


@dataclass
class Club:
    """What the provider knows and says; a test may change any of it."""

    address: str = ""
    person: dict[str, Any] = field(
        default_factory=lambda: {"sub": "7", "email": "Carl@Club.example", "email_verified": True}
    )
    claims: dict[str, Any] = field(default_factory=dict)
    description: dict[str, Any] = field(default_factory=dict)
    header: dict[str, Any] = field(default_factory=lambda: {"alg": "RS256", "kid": "first"})
    key: Any = field(default_factory=lambda: KEY)
    email_in_token: bool = True
    refuses: str = ""
    asked: list[str] = field(default_factory=list)
    given_out: dict[str, dict[str, str]] = field(default_factory=dict)

    @property
    def provider(self) -> Provider:
        return Provider(self.address, CLIENT_ID, CLIENT_SECRET, "Test Club")

    def sign_in(self, address: str) -> str:
        """Sign in at `address` as a browser would, and return where it is sent next."""
        asked = dict(parse_qsl(urlsplit(address).query))
        assert asked["client_id"] == CLIENT_ID
        assert asked["scope"].split() == ["openid", "email"]
        assert asked["code_challenge_method"] == "S256"
        code = secrets.token_urlsafe(16)
        self.given_out[code] = asked
        answer = {"error": self.refuses} if self.refuses else {"code": code}
        return f"{asked['redirect_uri']}?{urlencode(answer | {'state': asked['state']})}"

    def described(self) -> dict[str, Any]:
        places = {
            "authorization_endpoint": "authorize",
            "token_endpoint": "token",
            "jwks_uri": "keys",
            "userinfo_endpoint": "person",
        }
        described = {name: f"{self.address}/{place}" for name, place in places.items()}
        return {"issuer": self.address} | described | self.description

    def token(self, client: str, form: dict[str, str]) -> dict[str, Any] | None:
        expected = base64.b64encode(f"{CLIENT_ID}:{CLIENT_SECRET}".encode()).decode()
        asked = self.given_out.pop(form["code"], None)
        if client != f"Basic {expected}" or asked is None:
            return None
        digest = hashlib.sha256(form["code_verifier"].encode()).digest()
        if (encoded(digest), form["redirect_uri"]) != (
            asked["code_challenge"],
            asked["redirect_uri"],
        ):
            return None
        now = int(time.time())
        claims = {"iss": self.address, "aud": CLIENT_ID, "iat": now, "exp": now + 300}
        claims |= {"nonce": asked["nonce"], "sub": self.person["sub"]}
        claims |= self.person if self.email_in_token else {}
        signed = self.signed(claims | self.claims)
        return {"access_token": "for carl", "token_type": "Bearer", "id_token": signed}

    def signed(self, claims: dict[str, Any]) -> str:
        if self.header["alg"] == "none":
            parts = (json.dumps(part).encode() for part in (self.header, claims))
            return ".".join([*map(encoded, parts), ""])
        return jwt.encode(self.header, claims, self.key, [self.header["alg"]])


def encoded(content: bytes) -> str:
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def _handler(club: Club) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            place = urlsplit(self.path).path
            club.asked.append(place)
            if place == "/authorize":
                self.send_response(302)
                self.send_header("Location", club.sign_in(self.path))
                self.end_headers()
            elif place == "/person":
                known = self.headers["Authorization"] == "Bearer for carl"
                self.answer(club.person if known else None)
            else:
                keys = {"keys": [KEY.as_dict(private=False)]}
                self.answer({"/keys": keys}.get(place, club.described()))

        def do_POST(self) -> None:
            club.asked.append(self.path)
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            form = {name: values[0] for name, values in parse_qs(body).items()}
            self.answer(club.token(self.headers["Authorization"], form))

        def answer(self, facts: dict[str, Any] | None) -> None:
            body = json.dumps(facts or {"error": "invalid_grant"}).encode()
            self.send_response(200 if facts else 400)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing in the tests' output."""

    return Handler


@contextmanager
def running_club() -> Iterator[Club]:
    """Run the provider on a free port of this machine until the block is left."""
    club = Club()
    with ThreadingHTTPServer(("127.0.0.1", 0), _handler(club)) as server:
        club.address = f"http://127.0.0.1:{server.server_port}"
        thread = Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield club
        finally:
            server.shutdown()
            thread.join()
