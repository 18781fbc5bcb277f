"""Large keys and a field for one number; what is typed stays in the browser until it is stored.

Keys that each ask the server could swallow or swap digits that are pressed fast, and would be
dead while the network is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass

import streamlit as st

from dashboard.screen.own_scripts import FOLDER, own_script

NO_ANSWER = "Not saved yet: the server does not answer. It is being sent again."
KEPT = "Not saved yet. Press Accept to save it."


@dataclass(frozen=True)
class Typed:
    """What was accepted: the text, and the session and number of the effort it is for.

    `sure` means that whoever typed it was asked about the value, and confirmed it. The message
    has a `number` of its own, and keeps it when it is sent again.
    """

    text: str
    session_id: int
    effort: int
    sure: bool
    number: str


@dataclass(frozen=True)
class Question:
    """What is asked before a number counts: the number as typed, the words, and both answers.

    Its `number` is that of the message it is about, so that one that was answered is not asked
    again.
    """

    number: str
    typed: str
    text: str
    sure: str
    again: str


@dataclass(frozen=True)
class Asked:
    """What the keypad asks for.

    Attributes
    ----------
    session_id, effort : int
        Which effort.
    label, placeholder : str
        Above and in the field.
    answered : str
        The number of the message that was answered last. An answer that comes late, to a message
        that was sent twice, says nothing of the one after it.
    closed : bool
        Whether no number is taken.
    question : Question or None
        About the number that was typed for this effort.
    """

    session_id: int
    effort: int
    label: str
    placeholder: str
    answered: str
    closed: bool = False
    question: Question | None = None


def just_accepted(key: str) -> Typed | None:
    """Return what the keypad sent with the press that is being answered, if it sent anything.

    There is no keypad beside an ended test, where the test of another can be ended all the same.
    """
    keypad = st.session_state.get(key)
    if keypad is None or not (accepted := keypad.accepted):
        return None
    return Typed(
        str(accepted["text"]),
        int(accepted["session"]),
        int(accepted["effort"]),
        bool(accepted["sure"]),
        str(accepted["number"]),
    )


def show_keypad(asked: Asked, key: str, on_accept: Callable[[Typed], object]) -> None:
    """Show the keypad; `on_accept` is called before the page, or its part, runs again."""

    def accept() -> None:
        if (typed := just_accepted(key)) is not None:
            on_accept(typed)

    html = (FOLDER / "keypad" / "keypad.html").read_text("utf-8")
    own_script("keypad", html, "keypad.css")(
        key=key,
        data={
            "session": asked.session_id,
            "effort": asked.effort,
            "label": asked.label,
            "placeholder": asked.placeholder,
            "accept": "Accept",
            "answered": asked.answered,
            "closed": asked.closed,
            "question": asdict(asked.question) if asked.question else None,
            "kept": KEPT,
            "no_answer": NO_ANSWER,
        },
        on_accepted_change=accept,
    )
