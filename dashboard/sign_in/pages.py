"""The pages for signing in and out: plain HTML, no script, nothing from elsewhere."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import partial
from math import ceil
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from dashboard.core.events import log_event
from dashboard.screen.web_sessions import (
    LIFETIME,
    form_token,
    open_session,
    person_of,
    running_store,
    session_id,
)
from dashboard.serving.gate import SESSION_COOKIE, SID_HEADER
from dashboard.serving.own_pages import page
from dashboard.sign_in.accounts import LONGEST_PASSWORD, SHORTEST_PASSWORD, person_with_password
from dashboard.sign_in.attempts import Attempts, Subject, subjects_of
from dashboard.sign_in.club_provider import used_provider
from dashboard.sign_in.set_up import add_first_director
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.people.accounts import Person, close_web_session, get_person, has_signed_in, list_people

FORM_COOKIE = "warmcurve_form"
BROWSER_COOKIE = "warmcurve_browser"
"""Shows that somebody has signed in here before: the store's id of an earlier web session."""
BROWSER_LIFETIME = timedelta(days=180)
SEES = {
    "director": "The whole squad, imports, exports and accounts",
    "coach": "The squad, the plan of the day and its sheet",
    "athlete": "Their own curve and length, nobody else's",
}
attempts = Attempts()

Fields = Mapping[str, str]


class Refused(Exception):
    """Nobody was let in; the sentence says why and what to do."""

    def __init__(self, sentence: str, status: int, wait_seconds: int = 0) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.status = status
        self.wait_seconds = wait_seconds


async def sign_in(request: Request) -> Response:
    """Show the sign-in page, or let in a person who has proved who they are."""
    if request.method == "POST":
        return await answered(_enter, request, await form_fields(request))
    return await answered(_show, request)


async def sign_out(request: Request) -> Response:
    """Ask whether to sign out, or end the web session of this browser."""
    if request.method == "POST":
        return await answered(_leave, request, await form_fields(request))
    return await answered(_ask_to_leave, request)


routes = [
    Route("/signin", sign_in, methods=["GET", "POST"]),
    Route("/signout", sign_out, methods=["GET", "POST"]),
]


async def answered(answer: Callable[..., Response], *args: object) -> Response:
    """Answer in a thread, with the store's file open throughout: opening it takes 10 ms."""

    def answer_with_open_store() -> Response:
        with running_store().reading():
            return answer(*args)

    return await run_in_threadpool(answer_with_open_store)


async def form_fields(request: Request) -> Fields:
    """Return the fields of a form that was sent."""
    async with request.form(max_files=0, max_fields=10, max_part_size=2_000) as form:
        return {name: str(value) for name, value in form.items()}


def _show(request: Request) -> Response:
    token = request.cookies.get(SESSION_COOKIE)
    if token and person_of(running_store(), session_id(token)):
        return RedirectResponse(own_path(request.query_params.get("next", "")), 303)
    return sign_in_page(request, request.query_params)


def _enter(request: Request, fields: Fields) -> Response:
    """Let in a person who has proved who they are."""
    store = running_store()
    try:
        check_form(fields, request.cookies.get(FORM_COOKIE, ""))
        person = _who(store, request, fields)
    except Refused as refusal:
        return sign_in_page(request, fields, refusal)
    except BadInput as error:
        return sign_in_page(request, fields, Refused(error.message, 400))
    return let_in(request, person, fields.get("next", ""))


def let_in(request: Request, person: Person, wanted: str) -> Response:
    """Open a new web session, closing the one this browser had, and go to the wanted page."""
    store = running_store()
    if old_token := request.cookies.get(SESSION_COOKIE):
        close_web_session(store, session_id(old_token))
    response = RedirectResponse(own_path(wanted), 303)
    token = open_session(store, person)
    set_cookie(request, response, SESSION_COOKIE, token)
    set_cookie(request, response, BROWSER_COOKIE, session_id(token), BROWSER_LIFETIME)
    return response


def check_form(fields: Fields, expected: str) -> None:
    """Refuse a form that did not come from a page this browser was given."""
    given = fields.get("form_token", "")
    if not expected or not secrets.compare_digest(given.encode(), expected.encode()):
        raise Refused("This page has expired. Please try again.", 403)


def _who(store: Store, request: Request, fields: Fields) -> Person:
    """Return who signs in: the first director, a sample account, or a name with its password."""
    if "sample" in fields:
        return _sample_person(store, fields["sample"])
    name = fields.get("name", "").strip().lower()
    subjects = _take_attempt(store, request, name)
    if "code" in fields:
        names = (fields.get(part, "") for part in ("code", "name", "display_name", "password"))
        return add_first_director(store, *names)
    person = person_with_password(store, name, fields.get("password", ""))
    if person is None:
        raise Refused("That name and password do not go together. Check both and try again.", 401)
    attempts.succeeded(subjects[0])
    return person


def _take_attempt(store: Store, request: Request, name: str) -> tuple[Subject, ...]:
    """Count this attempt and return what it was counted under."""
    browser = request.cookies.get(BROWSER_COOKIE)
    known = browser if browser and has_signed_in(store, browser, name) else None
    subjects = subjects_of(name, address_of(request), known)
    if wait_seconds := ceil(attempts.take(*subjects)):
        raise Refused(
            f"Too many attempts. Wait {duration(wait_seconds)}, then try again.",
            429,
            wait_seconds,
        )
    return subjects


def address_of(request: Request) -> str:
    """Return where a request comes from, as a proxy on this machine says."""
    return request.client.host if request.client else "unknown"


def duration(seconds: int) -> str:
    """Return a wait in words."""
    if seconds < 90:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    return f"{ceil(seconds / 60)} minutes"


def _sample_names(store: Store) -> list[str]:
    """Return the sign-in names of the sample accounts, which only a demo store has."""
    if get_setting(store, "demo") != "yes":
        return []
    from demo_team.club import ACCOUNTS

    return [account.name for account in ACCOUNTS]


def _sample_person(store: Store, name: str) -> Person:
    person = get_person(store, name) if name in _sample_names(store) else None
    if person is None or not person.active:
        raise Refused("That sample account does not exist. Sign in with a name instead.", 403)
    return person


def sign_in_page(request: Request, fields: Fields, refusal: Refused | None = None) -> Response:
    """Return the page that fits the store: first account, sample accounts, or just a name."""
    if refusal is not None:
        log_event("sign-in-refused", status=refusal.status)
    store, provider = running_store(), used_provider()
    token = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(32)
    show = partial(
        page,
        status=refusal.status if refusal else 200,
        message=refusal.sentence if refusal else "",
        club=get_setting(store, "club_name", ""),
        form_token=token,
        name=fields.get("name", ""),
    )
    people = list_people(store)
    if people:
        active = {person.person: person for person in people if person.active}
        response = show(
            "sign_in.html",
            samples=[active[name] for name in _sample_names(store) if name in active],
            sees=SEES,
            next=own_path(fields.get("next", "")),
            club_sign_in=provider.label if provider else "",
        )
    else:
        response = show(
            "first_director.html",
            display_name=fields.get("display_name", ""),
            shortest_password=SHORTEST_PASSWORD,
            longest_password=LONGEST_PASSWORD,
        )
    set_cookie(request, response, FORM_COOKIE, token)
    if refusal and refusal.wait_seconds:
        response.headers["Retry-After"] = str(refusal.wait_seconds)
    return response


def _ask_to_leave(request: Request) -> Response:
    sid = request.headers[SID_HEADER]
    person = person_of(running_store(), sid)
    return page("sign_out.html", person=person, form_token=form_token(sid))


def _leave(request: Request, fields: Fields) -> Response:
    sid = request.headers[SID_HEADER]
    try:
        check_form(fields, form_token(sid))
    except Refused as refusal:
        return page("trouble.html", 403, heading="Not signed out", sentence=refusal.sentence)
    close_web_session(running_store(), sid)
    response = RedirectResponse("/signin", 303)
    response.delete_cookie(SESSION_COOKIE)
    return response


def set_cookie(
    request: Request, response: Response, name: str, value: str, lifetime: timedelta = LIFETIME
) -> None:
    """Set a cookie that no script can read and no other site's form can send."""
    response.set_cookie(
        name,
        value,
        max_age=int(lifetime.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )


def own_path(text: str) -> str:
    """Return a path of the dashboard to go to, the start page for anything else."""
    inside = text.startswith("/") and not text.startswith(("//", "/\\", "/sign"))
    return quote(text, safe="/?=&%-_.~+") if inside else "/"
