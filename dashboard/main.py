"""The application: Streamlit's pages behind our gate, with our own routes beside them."""

from __future__ import annotations

from pathlib import Path

import streamlit as st
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from dashboard import club_sign_in, downloads, private_curve, sign_in
from dashboard.broken_pages import log_failures_once, show_script_error
from dashboard.gate import Gate, host_check
from dashboard.own_pages import exception_handlers
from db.errors import StoreError
from db.store import Store, default_path

HEALTH_WAIT_SECONDS = 3.0


async def healthz(_request: Request) -> PlainTextResponse:
    """Tell a watcher that the server answers and its store can be read, or why it cannot."""
    try:
        await run_in_threadpool(Store(default_path(), HEALTH_WAIT_SECONDS).revision)
    except StoreError as error:
        return PlainTextResponse(error.message, 503)
    return PlainTextResponse("ok")


log_failures_once()
app = st.App(
    Path(__file__).with_name("router.py"),
    routes=[
        Route("/healthz", healthz),
        *sign_in.routes,
        *club_sign_in.routes,
        *downloads.routes(),
        *private_curve.routes,
    ],
    middleware=[Middleware(host_check), Middleware(Gate)],
    exception_handlers=exception_handlers,
    on_script_error=show_script_error,
)
