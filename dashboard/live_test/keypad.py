"""Large keys and a field for one number; what is typed stays in the browser until it is saved.

If every key asked the server, digits pressed fast could get lost or swapped, and no key would
work while the network is down.
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

    `sure` means that the person who typed the value was asked about it and confirmed it. Each
    message has its own `number`, and keeps it when it is sent again.
    """

    text: str
    session_id: int
    effort: int
    sure: bool
    number: str


@dataclass(frozen=True)
class Question:
    """A question before a typed number counts: the number, the words, and both answers.

    `number` is that of the message it is about, so that a question is not asked again once it is
    answered.
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
        Which effort it is for.
    label, placeholder : str
        Words above the field and in it.
    answered : str
        The number of the message that was answered last. With it, a late answer to a message that
        was sent twice is not mistaken for an answer to the next one.
    closed : bool
        Whether no number is taken.
    question : Question or None
        A question about the number that was typed for this effort.
    """

    session_id: int
    effort: int
    label: str
    placeholder: str
    answered: str
    closed: bool = False
    question: Question | None = None


def just_accepted(key: str) -> Typed | None:
    """Return what the keypad sent with the press that is being answered, if anything.

    An ended test has no keypad on its screen, but another athlete's test can still be ended there.
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
    """Show the keypad; `on_accept` is called before the page or fragment runs again."""

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
