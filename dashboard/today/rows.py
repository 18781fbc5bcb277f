"""The rows of Today as the screen draws them, and the messages it sends back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from math import isfinite
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import streamlit as st

from dashboard.core.palette import Palette
from dashboard.screen.elements import screen_palette
from dashboard.screen.menu import at
from dashboard.screen.own_scripts import FOLDER, own_script
from dashboard.screen.web_sessions import running_store

LONGEST_REASON = 160
KEY = "today_rows"
FILE = "today_file"
FOCUS = "today_focus"
ANSWERED = "today_answered"
SESSION = "today_session"
PRESSED = "today_pressed"
ERRORS = "today_errors"
DOUBTS = "today_doubts"


@dataclass(frozen=True)
class Chip:
    """One of a few answers to why an athlete did something else."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class Doubted:
    """What looks mistyped in the field `what`, and the label of the button that saves it anyway."""

    what: str
    sentence: str
    sure: str


@dataclass(frozen=True)
class Row:
    """One athlete.

    Attributes
    ----------
    code, name : str
    ticked, tick_label : bool, str
        Whether the athlete is here, or what was done is saved; and the label of the tick.
    at : str or None
        When the athlete begins; None if the group says it.
    number, number_label, own : str or None, str, bool
        The length (None for somebody who is away), its label, and whether a person set it.
    of : str
        Text beside the number.
    value, value_label : str or None, str
        A second number (None if there is none), and its label.
    hollow, lost, why, told : bool, str, str, str
        Whether it is not known yet; what is lost; why this length; what a person changed.
    reason, reason_hint, reset : str or None, str, str
        Why a person changed it (None if that isn't asked); whether it may stay blank; the label of
        the button that undoes it (empty if there is none).
    chips : tuple of Chip
    error, doubts : str, tuple of Doubted
        What was wrong with the input; what is only saved once somebody is sure of it.
    more : tuple of str
        What a tap on the name shows.
    """

    code: str
    name: str
    ticked: bool
    tick_label: str
    number: str | None
    number_label: str
    own: bool = False
    at: str | None = None
    of: str = ""
    value: str | None = None
    value_label: str = ""
    hollow: bool = False
    lost: str = ""
    why: str = ""
    told: str = ""
    reason: str | None = None
    reason_hint: str = ""
    reset: str = ""
    chips: tuple[Chip, ...] = ()
    error: str = ""
    doubts: tuple[Doubted, ...] = ()
    more: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """Rows under one heading; `mark` is long, short, standard or unknown."""

    mark: str
    title: str
    rows: tuple[Row, ...]
    told: str = ""
    at: str = ""
    compact: bool = False


@dataclass(frozen=True)
class Choice:
    """One way for everybody to warm up, and what it costs."""

    value: str
    label: str
    told: str
    chosen: bool


@dataclass(frozen=True)
class Waves:
    """How many waves a start has: a label for each option, and the place of the chosen one."""

    start: int
    label: str
    options: tuple[str, ...]
    chosen: int


@dataclass(frozen=True)
class Message:
    """What was ticked, typed or chosen: the field `what`, in the row with an athlete's code."""

    number: int
    what: str
    row: str
    value: str | bool


@dataclass(frozen=True)
class RowList:
    """Everything in the list; `key` tells days, games and saved plans apart."""

    key: str
    groups: tuple[Group, ...]
    choices: tuple[Choice, ...] = ()
    costs: str = ""
    waves: tuple[Waves, ...] = ()
    after: bool = False


def show_rows(shown: RowList, hear: Callable[[Message], None]) -> None:
    """Show the list; `hear` gets each message before the page runs again.

    If the next run overtakes one, that run may end before it has heard its message. The browser
    sends unheard messages along each time, so the next run hears them.
    """

    def said() -> None:
        # The page keeps the store open itself, but this runs before the page begins.
        with running_store().kept_open():
            for message in new_messages(_said(), shown.key):
                st.session_state.get(ERRORS, {}).pop(message.row, None)
                hear(message)
                st.session_state[ANSWERED] = message.number

    if new_messages(_said(), shown.key):
        said()
        st.rerun()
    errors = st.session_state.get(ERRORS, {})
    groups = tuple(
        replace(each, rows=tuple(replace(row, error=errors.get(row.code, "")) for row in each.rows))
        for each in shown.groups
    )
    told = asdict(replace(shown, groups=groups))
    for group in told["groups"]:
        for row in group["rows"]:
            row["link"] = at(f"/athlete?{urlencode({'athlete': row['code']})}")
    told |= {
        "answered": st.session_state.get(ANSWERED, 0),
        "session": st.session_state.setdefault(SESSION, uuid4().hex),
        "colours": _colours(screen_palette()),
        # Not removed: an overtaken run never reaches the browser, so the next must send it again.
        "file": st.session_state.get(FILE),
        "focus": st.session_state.pop(FOCUS, None),
    }
    draw_list(told, said)


def note_press() -> None:
    """Remember a press on the save button until a run gets far enough to act on it.

    It is a callback, so it runs before the page: if the next run overtakes this one, the press is
    still remembered.
    """
    st.session_state[PRESSED] = True


def was_pressed() -> bool:
    """Tell whether the save button was pressed, and forget it."""
    return bool(st.session_state.pop(PRESSED, False))


def draw_list(told: dict[str, Any], said: Callable[[], None]) -> None:
    """Draw the list; `said` is called when new messages arrive under `KEY`."""
    html = (FOLDER / "today" / "today.html").read_text("utf-8")
    own_script("today", html, "today.css")(key=KEY, data=told, on_said_change=said)


def _said() -> Any:
    return getattr(st.session_state.get(KEY), "said", None)


def new_messages(said: Any, key: str) -> list[Message]:
    """Return a list's messages that have not been heard yet, leaving out malformed ones.

    Messages to a server that has restarted since are sent again if they were not heard.
    """
    here = {"key": key, "session": st.session_state.get(SESSION)}
    if not isinstance(said, dict) or any(said.get(name) != now for name, now in here.items()):
        return []
    messages = said.get("messages")
    found = [_message(each) for each in messages] if isinstance(messages, list) else []
    heard = st.session_state.get(ANSWERED, 0)
    return [each for each in found if each is not None and each.number > heard]


def _message(said: Any) -> Message | None:
    if not isinstance(said, dict):
        return None
    number, what, row, value = (said.get(name) for name in ("number", "what", "row", "value"))
    if isinstance(number, bool) or not isinstance(number, int | float) or not isfinite(number):
        return None
    if not isinstance(what, str) or not isinstance(row, str) or not isinstance(value, str | bool):
        return None
    return Message(int(number), what, row, value)


def refuse(code: str, sentence: str) -> None:
    """Say in an athlete's row what was wrong."""
    st.session_state.setdefault(ERRORS, {})[code] = sentence


def put_doubt(key: str, message: Message, sentence: str, sure: str) -> None:
    """Ask in an athlete's row whether what was typed is right, until somebody answers."""
    kept = st.session_state.setdefault(DOUBTS, {})
    kept[key, message.row, message.what] = (message, Doubted(message.what, sentence, sure))


def doubts(key: str, code: str) -> tuple[Doubted, ...]:
    """Return the open questions in an athlete's row."""
    kept = st.session_state.get(DOUBTS, {})
    return tuple(doubted for place, (_, doubted) in kept.items() if place[:2] == (key, code))


def settled(key: str, message: Message) -> Message | None:
    """Return the message to act on: the doubted one once somebody is sure of it, else this one.

    Typing again or ticking drops the open question. None if `sure` answers no open question.
    """
    kept, sure = st.session_state.get(DOUBTS, {}), message.what == "sure"
    fields = ("number", "value") if message.what == "tick" else (message.value, message.what)
    found = [kept.pop((key, message.row, field), None) for field in fields]
    return next((was for was, _ in filter(None, found)), None) if sure else message


def typed_number(text: str | bool) -> float | None:
    """Return a number typed with a point or a comma; None if it isn't a number."""
    try:
        found = float(str(text).strip().replace(",", "."))
    except ValueError:
        return None
    return found if isfinite(found) and not isinstance(text, bool) else None


def _colours(palette: Palette) -> dict[str, str]:
    return {
        "ground": palette.background,
        "text": palette.text,
        "quiet": palette.quiet,
        "line": palette.grid,
        "edge": palette.not_known,
        "long": palette.long,
        "short": palette.short,
        "either": palette.either,
        "unknown": palette.not_known,
        "volume": palette.volume,
    }
