"""Do what was asked, and say that it is done."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from db.errors import StoreError

SAID, TURN = "said_of_last_run", "turn"


def show_said() -> None:
    """Show what the page's last run had to say before it ran again."""
    if said := st.session_state.pop(SAID, None):
        st.success(said)


def turn() -> int:
    """Return how often something was done; a form with this in its key is then empty again."""
    return int(st.session_state.get(TURN, 0))


def do(said: str, work: Callable[[], object]) -> None:
    """Do what was asked, run again and show that it is done; or say why it was not."""
    try:
        work()
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.session_state[SAID] = said
    st.session_state[TURN] = turn() + 1
    st.rerun()
