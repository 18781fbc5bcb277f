"""A page that waits for the store says so while it waits."""

from __future__ import annotations

from threading import Thread

import streamlit as st
from streamlit.runtime.scriptrunner import add_script_run_ctx, get_script_run_ctx

from db.file.waits import tell_otherwise

SHOWN_SECONDS = 10


def show_waits() -> None:
    """Show whoever looks at a page each long wait from now on.

    Also of what runs before the page does, or a part of it alone: what a button does, or a part
    that follows what happens.
    """
    tell_otherwise(_show)


def _show(sentence: str) -> None:
    context = get_script_run_ctx(suppress_warning=True)
    if context is None:
        return
    # In a thread of its own: what a remembered answer shows while it is found would be
    # shown again each time it is given from memory.
    thread = Thread(target=st.toast, args=(sentence,), kwargs={"duration": SHOWN_SECONDS})
    add_script_run_ctx(thread, context)
    thread.start()
    thread.join()
