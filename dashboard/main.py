"""The application: Streamlit's pages behind our gate, with our own routes beside them."""

from __future__ import annotations

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard.broken_pages import log_failures_once, show_script_error
from dashboard.gate import Gate, host_check
from dashboard.own_pages import exception_handlers
from dashboard.routes import ROUTES
from dashboard.waiting_page import WaitingPage

log_failures_once()
app = st.App(
    Path(__file__).with_name("router.py"),
    routes=ROUTES,
    middleware=[Middleware(host_check), Middleware(WaitingPage), Middleware(Gate)],
    exception_handlers=exception_handlers,
    on_script_error=show_script_error,
)
