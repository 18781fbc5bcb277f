"""Every address of our own that the server answers beside Streamlit's pages."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from dashboard.app import downloads
from dashboard.core.failures import for_anybody
from dashboard.own import routes as own_routes
from dashboard.serving.unknown_addresses import NoPage
from dashboard.sign_in import club_sign_in, invited, pages
from db.errors import StoreError
from db.file.store import Store, default_path

HEALTH_WAIT_SECONDS = 3.0


async def healthz(_request: Request) -> PlainTextResponse:
    """Answer a health check: `ok` if the store can be read, else why it cannot."""
    try:
        await run_in_threadpool(Store(default_path(), HEALTH_WAIT_SECONDS).revision)
    except StoreError as error:
        return PlainTextResponse(for_anybody(error.message), 503)
    return PlainTextResponse("ok")


ROUTES = [
    Route("/healthz", healthz),
    *pages.routes,
    *invited.routes,
    *club_sign_in.routes,
    *downloads.routes(),
    *own_routes.routes,
    NoPage(),
]
