"""The athlete's page as plain HTML: in full when signed in, with less by a private link."""

from __future__ import annotations

from datetime import UTC, datetime

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from dashboard.club import privacy_words
from dashboard.core import cautions, dates
from dashboard.core.reader import Reader, preferred_locale, written_for
from dashboard.own import words
from dashboard.own.curve_picture import FOOT, HEAD, HEIGHT, LEFT, WIDTH
from dashboard.own.facts import own_facts
from dashboard.own.game import next_lines
from dashboard.own.home_screen import ICON_PATH, MANIFEST_PATH, icon, manifest
from dashboard.own.plain import LATEST, game_parts, measure_parts
from dashboard.rules import status_words
from dashboard.screen.menu import at
from dashboard.screen.reads import ask_for, open_links, seen_by_staff
from dashboard.screen.web_sessions import form_token, person_of, running_store, session_id
from dashboard.serving.gate import LINK_PATH, OWN_PATH, SID_HEADER
from dashboard.serving.own_pages import page
from db.file.store import Store
from db.people.accounts import Person
from db.people.athlete_views import athlete_views
from db.people.private_links import athlete_of_link
from db.people.sight import in_sight, sight_of
from db.privacy.held_data import held

COPY_PATH = f"{OWN_PATH}/copy.html"


async def show_own(request: Request) -> Response:
    """Show the athlete who is signed in their own page, and refuse everybody else."""
    sid, liked = request.headers.get(SID_HEADER, ""), request.headers.get("accept-language", "")
    return await run_in_threadpool(_own_page, sid, liked)


async def take_copy(request: Request) -> Response:
    """Give the athlete who is signed in the page as a file, to read without a network."""
    sid, liked = request.headers.get(SID_HEADER, ""), request.headers.get("accept-language", "")
    return await run_in_threadpool(_copy, sid, liked)


async def show_linked(request: Request) -> Response:
    """Show the page of the athlete that a link is for, or say that it opens nothing."""
    token, liked = str(request.path_params["token"]), request.headers.get("accept-language", "")
    return await run_in_threadpool(_linked_page, token, liked)


def _own_page(sid: str, liked: str) -> Response:
    store = running_store()
    person, athlete = _athlete_of(store, sid)
    return _page(store, person, athlete, liked, sid)


def _copy(sid: str, liked: str) -> Response:
    # A file can be passed on like a private link, so it holds no more than a link's page.
    store = running_store()
    person, athlete = _athlete_of(store, sid)
    answer = _page(store, person, athlete, liked, None, copy=True)
    answer.headers["Content-Disposition"] = 'attachment; filename="my-warm-up.html"'
    return answer


def _athlete_of(store: Store, sid: str) -> tuple[Person, str]:
    """Return who is signed in, and as which athlete; refuse everybody else."""
    person = person_of(store, sid)
    if person is None or person.role != "athlete" or not person.athlete:
        raise HTTPException(403, "This page is for athletes.")
    return person, person.athlete


def _linked_page(token: str, liked: str) -> Response:
    store = running_store()
    with store.reading():
        athlete = athlete_of_link(store, session_id(token), datetime.now(UTC))
        if athlete is not None:
            # The page is worked out from the store as that athlete's own account would see it.
            holder = Person("private link", "", "athlete", athlete)
            return _page(store, holder, athlete, liked, None)
    return page(
        "trouble.html",
        404,
        heading="This link opens nothing",
        sentence="It has expired, was revoked, or is not whole. Ask your coach for a new one.",
    )


def _page(
    store: Store, holder: Person, athlete: str, liked: str, sid: str | None, copy: bool = False
) -> Response:
    now = datetime.now()
    # Open the file once for everything that is asked below.
    with store.reading():
        known = ask_for(holder, own_facts, athlete, now.date())
        kept = _kept(store, holder, athlete) if sid is not None else []
    lines = [] if known.blocked else next_lines(known.games, athlete, now)
    with written_for(Reader(preferred_locale(liked), known.system)):
        return page(
            "own.html",
            club=known.club,
            name=known.name,
            blocked=status_words.ASK_STAFF if known.blocked else "",
            games=game_parts(known, lines, signed_in=sid is not None),
            measures=measure_parts(known, lines, signed_in=sid is not None),
            kept=kept,
            form_token=None if sid is None else form_token(sid),
            fetched=dates.weekday(now),
            copy=copy,
            paths={"file": at(COPY_PATH), "manifest": at(MANIFEST_PATH), "icon": at(ICON_PATH)},
            caution=cautions.CAUTION,
            fade_test=cautions.FADE_TEST,
            latest=LATEST,
            picture={"width": WIDTH, "height": HEIGHT, "left": LEFT, "head": HEAD, "foot": FOOT},
        )


def _kept(store: Store, holder: Person, athlete: str) -> list[str]:
    # Not asked with `ask_for`: a view makes no new revision, so a remembered answer would be old.
    views = athlete_views(in_sight(store, sight_of(holder)), athlete)
    return words.kept_sentences(
        privacy_words.counts_sentence(ask_for(holder, held, athlete)),
        seen_by_staff(holder),
        views.to_dict("records"),
        open_links(holder, athlete).to_dict("records"),
    )


routes = [
    Route(OWN_PATH, show_own, methods=["GET"]),
    Route(COPY_PATH, take_copy, methods=["GET"]),
    Route(MANIFEST_PATH, manifest, methods=["GET"]),
    Route(ICON_PATH, icon, methods=["GET"]),
    Route(LINK_PATH + "{token}", show_linked, methods=["GET"]),
]
