"""What a page shows when something in it fails."""

from __future__ import annotations

import logging
import secrets

import streamlit as st
from streamlit.runtime.scriptrunner import RerunData, get_script_run_ctx

from dashboard.core.failures import SAFE, failure_sentences, known_problem, log_failure

NEXT_STEP = "Check your last entry, then try again."
BROKEN_CLICK = "broken_click"
"""Session key for what to say about a failed click, until the page is drawn again."""


def show_script_error(error: Exception) -> bool:
    """Say what a page, a part of it or a click could not do; for pages only this place does.

    Streamlit calls this for every error that was not caught, wherever it was raised.
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
    # A click failed, and nothing of the page is drawn yet. A message shown now would take the
    # place of something else, so the page is drawn first.
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
    """Stop Streamlit logging what `show_script_error` logs already, or what is not a fault."""
    logging.getLogger("streamlit.error_util").addFilter(
        lambda record: record.msg != "Uncaught app execution"
    )
