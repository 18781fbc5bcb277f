"""Large keys and a field for one number; what is typed stays in the browser until it is stored.

Keys that each ask the server could swallow or swap digits that are pressed fast, and would be
dead while the network is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import streamlit as st

from dashboard.own_scripts import FOLDER, own_script

NO_ANSWER = (
    "Not stored yet: the server does not answer. The number stays here; press Enter again when "
    "the connection is back."
)


@dataclass(frozen=True)
class Typed:
    """What was accepted: the text, and the session and number of the effort it is for."""

    text: str
    session_id: int
    effort: int


@dataclass(frozen=True)
class Asked:
    """What the keypad asks for; `answer` changes with every answer to what was accepted."""

    session_id: int
    effort: int
    label: str
    placeholder: str
    answer: int


def show_keypad(asked: Asked, key: str, on_accept: Callable[[Typed], None]) -> None:
    """Show the keypad; `on_accept` is called before the page, or its part, runs again."""

    def accept() -> None:
        accepted = st.session_state[key].accepted
        if accepted:
            on_accept(
                Typed(str(accepted["text"]), int(accepted["session"]), int(accepted["effort"]))
            )

    html = (FOLDER / "keypad" / "keypad.html").read_text("utf-8")
    own_script("keypad", html, "keypad.css")(
        key=key,
        data={
            "session": asked.session_id,
            "effort": asked.effort,
            "label": asked.label,
            "placeholder": asked.placeholder,
            "accept": "Accept",
            "answer": str(asked.answer),
            "no_answer": NO_ANSWER,
        },
        on_accepted_change=accept,
    )
