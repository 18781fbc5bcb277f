"""The application: Streamlit's pages behind our gate, with our own routes beside them."""

from __future__ import annotations

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard.app.routes import ROUTES
from dashboard.frame.broken_pages import log_failures_once, show_script_error
from dashboard.serving.compressed_files import CompressedFiles
from dashboard.serving.gate import Gate, host_check
from dashboard.serving.own_pages import exception_handlers
from dashboard.serving.waiting import WaitingPage

log_failures_once()
app = st.App(
    Path(__file__).parents[1] / "router.py",
    routes=ROUTES,
    middleware=[
        Middleware(host_check),
        Middleware(WaitingPage),
        Middleware(Gate),
        Middleware(CompressedFiles),
    ],
    exception_handlers=exception_handlers,
    on_script_error=show_script_error,
)
