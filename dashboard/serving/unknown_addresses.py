"""Addresses that look like a page but belong to no page that the person may open."""

from __future__ import annotations

import re
from functools import cache

from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.routing import Match, Route
from starlette.types import Scope

from dashboard.screen.menu import places_of
from dashboard.serving.gate import ROLE, wants_page
from dashboard.serving.own_pages import page

LIKE_A_PAGE = re.compile(r"[a-z0-9][\w-]*", re.ASCII | re.IGNORECASE)
"""Streamlit's own files are in folders, have endings, or begin with an underscore."""


class NoPage(Route):
    """Says that there is no such page; Streamlit would open another page and say so there."""

    def __init__(self) -> None:
        super().__init__("/{name}", _say_so)

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Match what a browser asks for as a page but its person's menu does not have."""
        match, found = super().matches(scope)
        if match is not Match.FULL or ROLE not in scope or not wants_page(scope):
            return Match.NONE, {}
        name = found["path_params"]["name"]
        if name in _addresses(scope[ROLE]) or not LIKE_A_PAGE.fullmatch(name):
            return Match.NONE, {}
        return match, found


async def _say_so(_request: Request) -> HTMLResponse:
    sentence = "The address may be mistyped, or the page may be for people with other rights."
    return page("trouble.html", 404, heading="No page for you here", sentence=sentence)


@cache
def _addresses(role: str) -> frozenset[str]:
    own = (place.address for members in places_of(role).values() for place in members)
    return frozenset({"home", *own})
