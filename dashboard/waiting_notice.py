"""A page that waits for the store says so while it waits."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Thread

import streamlit as st
from streamlit.runtime.scriptrunner import add_script_run_ctx, get_script_run_ctx

from db.waits import telling_of_waits

SHOWN_SECONDS = 10


@contextmanager
def show_waits() -> Iterator[None]:
    """Show whoever looks at the page each long wait of what is done inside."""
    context = get_script_run_ctx()

    def show(sentence: str) -> None:
        # In a thread of its own: what a remembered answer shows while it is found would be
        # shown again each time it is given from memory.
        thread = Thread(target=st.toast, args=(sentence,), kwargs={"duration": SHOWN_SECONDS})
        add_script_run_ctx(thread, context)
        thread.start()
        thread.join()

    with telling_of_waits(show):
        yield
