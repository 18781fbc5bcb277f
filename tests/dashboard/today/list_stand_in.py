"""A stand-in for the list of Today without a browser: what it shows and what people do in it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.today import rows

SHOWN, SAY = "list_shown", "list_say"


def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw a Streamlit field instead of the list, whose script needs a browser."""

    def draw(told: dict[str, Any], said: Callable[[], None]) -> None:
        def hear() -> None:
            st.session_state[rows.KEY] = SimpleNamespace(said=json.loads(st.session_state[SAY]))
            said()

        st.session_state[SHOWN] = told
        st.text_input("Say", key=SAY, on_change=hear)

    monkeypatch.setattr(rows, "draw_list", draw)


def said(
    application: AppTest, what: str, row: str, value: object, key: str | None = None
) -> dict[str, Any]:
    """What the list sends when something is ticked, typed or chosen in it."""
    told = shown(application)
    message = {"number": told["answered"] + 1, "what": what, "row": row, "value": value}
    place = {"key": told["key"] if key is None else key, "session": told["session"]}
    return {**place, "messages": [message]}


def say(application: AppTest, what: str, row: str, value: object, key: str | None = None) -> None:
    """Tick, type or choose something in the list."""
    sent = json.dumps(said(application, what, row, value, key))
    application.text_input(key=SAY).set_value(sent).run()
    assert not application.exception


def shown(application: AppTest) -> dict[str, Any]:
    """What the list shows."""
    told: dict[str, Any] = application.session_state[SHOWN]
    return told


def groups(application: AppTest) -> dict[str, list[str]]:
    """The headings of the list, each with the codes under it."""
    return {
        group["title"]: [row["code"] for row in group["rows"]]
        for group in shown(application)["groups"]
    }


def row(application: AppTest, code: str) -> dict[str, Any]:
    """One athlete's row."""
    [found] = [each for each in _rows(application) if each["code"] == code]
    return found


def _rows(application: AppTest) -> Iterator[dict[str, Any]]:
    for group in shown(application)["groups"]:
        yield from group["rows"]
