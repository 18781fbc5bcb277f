"""Choose your own password with a link that works once, and sign in with it."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime, timedelta

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from dashboard.screen.web_sessions import running_store, session_id
from dashboard.serving.gate import INVITED_PATH
from dashboard.serving.own_pages import page
from dashboard.sign_in.accounts import LONGEST_PASSWORD, SHORTEST_PASSWORD, hash_password
from dashboard.sign_in.pages import (
    FORM_COOKIE,
    SEES,
    Fields,
    Refused,
    answered,
    check_form,
    form_fields,
    let_in,
    set_cookie,
)
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.people.accounts import Person
from db.people.invitations import InvitationEnded, invite, invited_person, take_invitation

LINK_DAYS = 7


def make_invitation(store: Store, name: str, by: str, now: datetime | None = None) -> str:
    """Make a link for an account's owner and return its path, which cannot be shown again."""
    token, made_at = secrets.token_urlsafe(32), now or datetime.now(UTC)
    until = made_at + timedelta(days=LINK_DAYS)
    invite(store, name, session_id(token), made_at, until, by)
    return f"{INVITED_PATH}{token}"


def unusable_hash() -> str:
    """Return the hash of a password that nobody knows, for an account until its link is used."""
    return hash_password(secrets.token_urlsafe(32))


async def invited(request: Request) -> Response:
    """Show whom a link is for and ask for a password, or let in the person who chose one."""
    if request.method == "POST":
        return await answered(_choose, request, await form_fields(request))
    return await answered(_ask, request)


routes = [Route(f"{INVITED_PATH}{{token}}", invited, methods=["GET", "POST"])]


def _ask(request: Request, refusal: Refused | None = None) -> Response:
    person = invited_person(running_store(), _secret(request), datetime.now(UTC))
    if person is None:
        return _ended()
    return _form(request, person, refusal)


def _choose(request: Request, fields: Fields) -> Response:
    store, now = running_store(), datetime.now(UTC)
    person = invited_person(store, _secret(request), now)
    if person is None:
        return _ended()
    try:
        check_form(fields, request.cookies.get(FORM_COOKIE, ""))
        password = fields.get("password", "")
        if password != fields.get("repeated", ""):
            raise BadInput("The two passwords do not match. Type the same one twice.")
        hashed = hash_password(password, person.person, person.display_name)
        take_invitation(store, _secret(request), hashed, now)
    except Refused as refusal:
        return _form(request, person, refusal)
    except InvitationEnded:
        return _ended()
    except BadInput as error:
        return _form(request, person, Refused(error.message, 400))
    return let_in(request, person, "/")


def _secret(request: Request) -> str:
    return session_id(request.path_params["token"])


def _form(request: Request, person: Person, refusal: Refused | None) -> Response:
    token = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(32)
    response = page(
        "invited.html",
        status=refusal.status if refusal else 200,
        message=refusal.sentence if refusal else "",
        club=get_setting(running_store(), "club_name", ""),
        form_token=token,
        person=person,
        sees=SEES[person.role],
        shortest_password=SHORTEST_PASSWORD,
        longest_password=LONGEST_PASSWORD,
    )
    set_cookie(request, response, FORM_COOKIE, token)
    return response


def _ended() -> Response:
    ended = InvitationEnded()
    return page("trouble.html", 410, heading=ended.title, sentence=ended.message)
