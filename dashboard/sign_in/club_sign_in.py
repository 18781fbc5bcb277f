"""Sign in with the club's own account: to its provider and back.

This opens the same web session as a password does, so signing out, a new role, a new address and
deactivation work the same way. (Streamlit's own `st.login` has no session on the server: a cookie
copied before signing out still works afterwards.)
"""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable
from datetime import timedelta
from math import ceil
from typing import TypeVar
from urllib.parse import quote, unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from dashboard.screen.menu import at
from dashboard.screen.web_sessions import running_store
from dashboard.serving.gate import CLUB_PATH, CLUB_RETURN_PATH
from dashboard.sign_in.attempts import FREE_ATTEMPTS_OF_MANY, Attempts, Subject
from dashboard.sign_in.club_provider import Provider, used_provider
from dashboard.sign_in.pages import (
    Refused,
    address_of,
    answered,
    duration,
    let_in,
    own_path,
    set_cookie,
    sign_in_page,
)
from db.people.accounts import person_with_email

AWAY_COOKIE = "warmcurve_away"
"""The secret of a browser whose person is at the provider, and where they wanted to go."""
LONGEST_AWAY = timedelta(minutes=15)
LONGEST_PATH = 500
club_attempts = Attempts()
logger = logging.getLogger(__name__)

Found = TypeVar("Found")


async def go(request: Request) -> Response:
    """Send the browser to the club's provider."""
    from dashboard.sign_in.openid import address_to_ask

    secret, wanted = secrets.token_urlsafe(32), own_path(request.query_params.get("next", ""))
    try:
        provider = _provider()
        address = await _asked(provider, address_to_ask, secret, _come_back(request))
    except Refused as refusal:
        return await _refused(request, refusal, wanted)
    response = RedirectResponse(address, 303)
    kept = f"{secret}.{quote(wanted[:LONGEST_PATH], safe='')}"
    set_cookie(request, response, AWAY_COOKIE, kept, LONGEST_AWAY)
    return response


async def come_back(request: Request) -> Response:
    """Let in the person the provider vouches for, found by their e-mail address in the store."""
    from dashboard.sign_in.openid import who_came_back

    secret, _, path = request.cookies.get(AWAY_COOKIE, "").partition(".")
    wanted = own_path(unquote(path))
    try:
        provider = _provider()
        code = _code(request, provider, secret)
        facts = await _asked(provider, who_came_back, secret, code, _come_back(request))
        email = _verified_email(provider, facts.get("email"), facts.get("email_verified"))
    except Refused as refusal:
        return await _refused(request, refusal, wanted)
    response = await answered(_enter, request, email, wanted)
    response.delete_cookie(AWAY_COOKIE)
    return response


routes = [
    Route(CLUB_PATH, go, methods=["GET"]),
    Route(CLUB_RETURN_PATH, come_back, methods=["GET"]),
]


def _provider() -> Provider:
    provider = used_provider()
    if provider is None:
        raise Refused("There is no sign-in by the club here. Sign in with a name.", 404)
    return provider


def _come_back(request: Request) -> str:
    """Return the address for the provider to send browsers back to, which it must know already."""
    return f"{request.url.scheme}://{request.url.netloc}{at(CLUB_RETURN_PATH)}"


async def _asked(provider: Provider, ask: Callable[..., Found], *words: str) -> Found:
    """Ask the provider in a thread, while nothing holds the store's file."""
    from dashboard.sign_in.openid import NotBelieved, Silent

    try:
        return await run_in_threadpool(ask, provider, *words)
    except Silent as error:
        logger.warning("The club's sign-in at %s does not answer: %s", provider.issuer, error)
        raise Refused(
            f"{provider.label} does not answer at the moment. Sign in with a name and password, "
            "or try again later.",
            503,
        ) from error
    except NotBelieved as error:
        logger.warning("The club's sign-in at %s was not believed: %s", provider.issuer, error)
        raise Refused(
            f"{provider.label} did not prove who you are, and nobody was signed in. Please try "
            "once more; if it stays so, tell your performance director.",
            403,
        ) from error


def _code(request: Request, provider: Provider, secret: str) -> str:
    """Return the code that the provider sent along, if this browser was sent there."""
    from dashboard.sign_in.openid import made_of

    state = request.query_params.get("state", "")
    if not secret or not secrets.compare_digest(state.encode(), made_of(secret, "state").encode()):
        raise Refused("This sign-in has expired. Please try again.", 403)
    _take_attempt(request)
    if request.query_params.get("iss", provider.issuer) != provider.issuer:
        raise Refused("Another provider answered than was asked. Please try again.", 403)
    if not (code := request.query_params.get("code")):
        raise Refused(f"{provider.label} did not sign you in. Please try again.", 401)
    return code


def _take_attempt(request: Request) -> None:
    """Limit how often one address can make us ask the provider."""
    if wait_seconds := ceil(club_attempts.take(_subject(request))):
        raise Refused(
            f"Too many attempts. Wait {duration(wait_seconds)}, then try again.", 429, wait_seconds
        )


def _subject(request: Request) -> Subject:
    return Subject(f"address {address_of(request)}", FREE_ATTEMPTS_OF_MANY)


def _verified_email(provider: Provider, email: object, verified: object) -> str:
    if not isinstance(email, str) or not email:
        raise Refused(
            f"{provider.label} did not say which e-mail address you have there. Whoever looks "
            "after it can let warmcurve see it.",
            403,
        )
    if verified is not True:
        raise Refused(
            f"{provider.label} has not checked that {email} is your address. Have it confirmed "
            "there, then try again.",
            403,
        )
    return email


def _enter(request: Request, email: str, wanted: str) -> Response:
    person = person_with_email(running_store(), email)
    if person is None:
        sentence = (
            f"No active account goes with {email}. Ask your performance director to enter this "
            "address on the page Accounts."
        )
        return sign_in_page(request, {"next": wanted}, Refused(sentence, 403))
    club_attempts.succeeded(_subject(request))
    return let_in(request, person, wanted)


async def _refused(request: Request, refusal: Refused, wanted: str) -> Response:
    response = await answered(sign_in_page, request, {"next": wanted}, refusal)
    response.delete_cookie(AWAY_COOKIE)
    return response
