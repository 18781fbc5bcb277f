"""The gate in front of Streamlit: who may pass, and which headers the answers get."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from pathlib import Path
from urllib.parse import quote

import streamlit
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

from dashboard.core.failures import for_anybody
from dashboard.screen.web_sessions import person_of, running_store, session_id
from dashboard.serving.answer_headers import headers_with
from dashboard.serving.own_pages import answered
from db.errors import StoreError
from db.people.accounts import Person

SESSION_COOKIE = "warmcurve_session"
PERSON_HEADER = "X-Warmcurve-Person"
SID_HEADER = "X-Warmcurve-Sid"
ROLE = "warmcurve.role"
"""Where a request that was let through has its person's role."""
OUR_HEADERS = b"x-warmcurve-"
CLUB_PATH = "/signin/club"
CLUB_RETURN_PATH = "/signin/club/return"
OWN_PATH = "/mine"
"""The athlete's page without script, where athletes go after signing in."""
LINK_PATH = "/curve/"
LINK = re.compile(LINK_PATH + r"[\w-]{20,100}", re.ASCII)
"""A path with the secret of a private link; it opens with nothing else."""
INVITED_PATH = "/join/"
INVITED = re.compile(INVITED_PATH + r"[\w-]{20,100}", re.ASCII)
"""A path with the secret of an invitation; it only lets somebody choose a password, once."""
OPEN_PATHS = frozenset({"/signin", CLUB_PATH, CLUB_RETURN_PATH, "/healthz"})
READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
WEB_SCHEMES = {"http": "http", "https": "https", "ws": "http", "wss": "https"}


def host_check(app: ASGIApp) -> TrustedHostMiddleware:
    """Refuse requests for any host that the configuration does not name.

    Without it, a foreign page could point its own host name at this machine and read the answers
    (DNS rebinding).
    """
    hosts = streamlit.config.get_option("server.allowedHosts")
    return TrustedHostMiddleware(app, allowed_hosts=hosts, www_redirect=False)


class Gate:
    """Lets a request through to the application only for a signed-in person.

    It drops identity headers that a client sends, refuses requests that other sites start in
    the visitor's name, finds the person by the cookie, and puts who it is in trusted headers.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or turn it away."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        scope["headers"] = [
            (name, value)
            for name, value in scope["headers"]
            if not name.lower().startswith(OUR_HEADERS)
        ]
        await answered(self._pass_on, scope, receive, _with_security_headers(scope, send))

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        answer = await self._turned_away(scope)
        await (answer or self.app)(scope, receive, send)

    async def _turned_away(self, scope: Scope) -> ASGIApp | None:
        """Return the refusal of a request, or None after adding the person's headers to `scope`."""
        connection = HTTPConnection(scope)
        if _changes_something(scope) and not _from_our_own_page(connection):
            return _refusal(scope, 403, "This request came from another site and was refused.")
        path = scope["path"]
        if path in OPEN_PATHS or LINK.fullmatch(path) or INVITED.fullmatch(path):
            return None
        try:
            person = await run_in_threadpool(_let_in, scope, connection)
        except StoreError as error:
            return _refusal(scope, 503, for_anybody(error.message))
        if person is None:
            return _to_sign_in(scope, connection)
        begins = scope["path"] == "/" and not scope["query_string"] and wants_page(scope)
        if person.role == "athlete" and begins:
            return RedirectResponse(OWN_PATH, status_code=303)
        return None


def _changes_something(scope: Scope) -> bool:
    return scope["type"] == "websocket" or scope["method"] not in READING_METHODS


def _from_our_own_page(connection: HTTPConnection) -> bool:
    """Tell whether the page that sent this has the same scheme, host and port.

    Cookies ignore ports, so another program on this machine must not pass as ours.
    """
    scheme = WEB_SCHEMES[connection.url.scheme]
    return connection.headers.get("origin") == f"{scheme}://{connection.headers.get('host')}"


def _let_in(scope: Scope, connection: HTTPConnection) -> Person | None:
    """Add the trusted headers of the cookie's person and return who it is, if anybody."""
    token = connection.cookies.get(SESSION_COOKIE)
    if not token:
        return None
    sid = session_id(token)
    person = person_of(running_store(), sid)
    if person is not None:
        headers = MutableHeaders(scope=scope)
        headers[PERSON_HEADER] = quote(person.person)
        headers[SID_HEADER] = sid
        scope[ROLE] = person.role
    return person


def wants_page(scope: Scope) -> bool:
    """Tell whether somebody opens an address in a browser, rather than a page asking for a part."""
    accepted = HTTPConnection(scope).headers.get("accept", "")
    return scope["type"] == "http" and "text/html" in accepted


def _to_sign_in(scope: Scope, connection: HTTPConnection) -> ASGIApp:
    """Send a person's browser to the sign-in page and refuse everything else."""
    if wants_page(scope):
        path, query = connection.url.path, connection.url.query
        asked_for = f"{path}?{query}" if query else path
        return RedirectResponse(f"/signin?next={quote(asked_for)}", status_code=303)
    return _refusal(scope, 401, "Sign in first.")


def _refusal(scope: Scope, status: int, sentence: str) -> ASGIApp:
    if scope["type"] == "websocket":
        return WebSocketClose(code=1008, reason=sentence)
    return PlainTextResponse(sentence, status_code=status)


def _with_security_headers(scope: Scope, send: Send) -> Send:
    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in security_headers().items():
                headers[name] = value
            if scope["scheme"] == "https":
                message["headers"] = [_secured(*header) for header in message["headers"]]
        await send(message)

    return send_with_headers if scope["type"] == "http" else send


def _secured(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    """Return a header; over TLS, cookies become Secure, which Streamlit's own are not."""
    plain = name.lower() == b"set-cookie" and b"; secure" not in value.lower()
    return name, value + b"; Secure" if plain else value


@cache
def security_headers() -> dict[str, str]:
    """Return the headers of every answer; the policy lets nothing leave for another host."""
    scripts = " ".join(["'self'", *_hashes_of_inline_scripts()])
    return headers_with(
        {
            "default-src": "'self'",
            "script-src": scripts,
            "style-src": "'self' 'unsafe-inline'",
            "img-src": "'self' data: blob:",
            "font-src": "'self' data:",
            "connect-src": "'self'",
            "worker-src": "'self' blob:",
            "frame-ancestors": "'none'",
            "form-action": "'self'",
            "base-uri": "'self'",
            "object-src": "'none'",
        }
    )


def _hashes_of_inline_scripts() -> list[str]:
    """Return the policy's hash of each script that Streamlit's own page holds inline."""
    page = Path(streamlit.__file__).with_name("static") / "index.html"
    scripts = re.findall(r"<script>(.*?)</script>", page.read_text("utf-8"), re.DOTALL)
    digests = [hashlib.sha256(script.encode()).digest() for script in scripts]
    return [f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests]
