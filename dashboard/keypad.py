"""Large keys and a field for one number; what is typed stays in the browser until it is stored.

Keys that each ask the server could swallow or swap digits that are pressed fast, and would be
dead while the network is. Streamlit serves the script as a file of ours, which the security
policy lets through.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.components.v2.get_bidi_component_manager import get_bidi_component_manager
from streamlit.components.v2.manifest_scanner import ComponentConfig, ComponentManifest

NAME = "warmcurve.keypad"
FOLDER = Path(__file__).parent / "assets"
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

    _component()(
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


def _component() -> Any:
    manager = get_bidi_component_manager()
    if manager.get_component_asset_root(NAME) is None:
        package, _, name = NAME.partition(".")
        parts = [ComponentConfig(name, "keypad")]
        manager.register_from_manifest(ComponentManifest(package, "1", parts), FOLDER)
    html = (FOLDER / "keypad" / "keypad.html").read_text("utf-8")
    return st.components.v2.component(NAME, html=html, css="keypad.css", js="keypad.js")
