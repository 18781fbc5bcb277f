"""What a page shows in place of what it could not do."""

from __future__ import annotations

import logging
import secrets

import streamlit as st
from streamlit.runtime.scriptrunner import RerunData, get_script_run_ctx

from dashboard.core.failures import SAFE, failure_sentences, known_problem, log_failure

NEXT_STEP = "Check your last entry, then try again."
BROKEN_CLICK = "broken_click"
"""Where the session keeps what to say of a click until the page is drawn again."""


def show_script_error(error: Exception) -> bool:
    """Say what a page, a part of it or a click could not do: the only place that does.

    Streamlit calls this for whatever was not caught, wherever it was raised.
    """
    problem, context = known_problem(error), get_script_run_ctx()
    if context is None or context.has_script_started:
        title, sentences = problem or (
            "This page is not complete",
            failure_sentences("it", NEXT_STEP, log_failure(error)),
        )
        st.error(f"**{title}.** {sentences}")
        st.button("Try again", key=f"again_{secrets.token_hex(4)}")
        return True
    # A click was being dealt with, and nothing of the page is drawn yet. What is shown now would
    # stand in the place of something else, so the page is drawn first.
    st.session_state[BROKEN_CLICK] = (
        problem[1] if problem else f"Fault {log_failure(error)}: not done. {SAFE} {NEXT_STEP}"
    )
    if context.script_requests is not None:
        again = RerunData(
            query_string=context.query_string,
            page_script_hash=context.page_script_hash,
            context_info=context.context_info,
        )
        context.script_requests.request_rerun(again)
    return True


def show_broken_click() -> None:
    """Say what the last click could not do."""
    if said := st.session_state.pop(BROKEN_CLICK, None):
        st.toast(said, icon=":material/error:", duration="infinite")


def log_failures_once() -> None:
    """Keep Streamlit from logging what `show_script_error` logs, or what is no fault at all."""
    logging.getLogger("streamlit.error_util").addFilter(
        lambda record: record.msg != "Uncaught app execution"
    )
