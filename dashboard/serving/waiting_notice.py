"""A page that waits for the store says so while it waits."""

from __future__ import annotations

from threading import Thread

import streamlit as st
from streamlit.runtime.scriptrunner import add_script_run_ctx, get_script_run_ctx

from db.file.waits import tell_otherwise

SHOWN_SECONDS = 10


def show_waits() -> None:
    """Show each long wait from now on to the person on the page.

    This includes what runs before the page, such as the action of a button, and a part of the
    page that runs by itself.
    """
    tell_otherwise(_show)


def _show(sentence: str) -> None:
    context = get_script_run_ctx(suppress_warning=True)
    if context is None:
        return
    # In a thread of its own: Streamlit caches what an answer shows along with it, and would
    # show it again each time the answer comes from memory.
    thread = Thread(target=st.toast, args=(sentence,), kwargs={"duration": SHOWN_SECONDS})
    add_script_run_ctx(thread, context)
    thread.start()
    thread.join()
