"""A coach's unsaved changes to a day, and the buttons that save and share it."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, replace
from datetime import date
from uuid import uuid4

import streamlit as st

from dashboard.core.numbers import number
from dashboard.screen import elements
from dashboard.screen.menu import at
from dashboard.today import rows
from dashboard.today.rows import Message
from db.errors import StoreError

CHOICES = OWN, WAVES, ONE = ("own", "waves", "one")
FEW_WAVES = 2
DRAFTS = "today_drafts"
Check = Callable[[str, float], str]
"""Says in a sentence why a length may not be set for an athlete; empty if it may."""
STAYS = "Stays: the length is set for a game or a trial of this day, or what was done is recorded."
NO_NUMBER = "Type a number, such as 12. Nothing was changed."


@dataclass(frozen=True)
class Draft:
    """A coach's choices for a day, immutable like a saved plan.

    Attributes
    ----------
    choice : {"own", "waves", "one"}
    waves : tuple of (int, int)
        Number of the start, and how many waves it has; 0 means own lengths.
    away : frozenset of str
        Codes.
    by_hand : tuple of (str, float, str)
        Code, length and reason for every length the coach has set.
    """

    choice: str = OWN
    waves: tuple[tuple[int, int], ...] = ()
    away: frozenset[str] = frozenset()
    by_hand: tuple[tuple[str, float, str], ...] = ()

    def with_length(self, code: str, length: float, reason: str) -> Draft:
        """Return the draft with a length set by hand, replacing any earlier one."""
        others = tuple(one for one in self.by_hand if one[0] != code)
        return replace(self, by_hand=tuple(sorted((*others, (code, length, reason)))))

    def with_reason(self, code: str, reason: str) -> Draft:
        """Return the draft with the reason for a length, if it was set by hand."""
        changed = ((*one[:2], reason) if one[0] == code else one for one in self.by_hand)
        return replace(self, by_hand=tuple(changed))

    def without_length(self, code: str) -> Draft:
        """Return the draft without the length set by hand for an athlete."""
        return replace(self, by_hand=tuple(one for one in self.by_hand if one[0] != code))

    def reason(self, code: str) -> str | None:
        """Return why an athlete's length was set by hand; None if it wasn't."""
        return next((reason for one, _, reason in self.by_hand if one == code), None)

    def waves_before(self, start: int) -> int | None:
        """Return how many waves a start has; None means own lengths."""
        if self.choice == OWN:
            return None
        if self.choice == ONE:
            return 1
        return dict(self.waves).get(start, FEW_WAVES) or None


def draft_of(key: str, saved: Callable[[], Draft]) -> Draft:
    """Return the draft of a day; begin it with what is saved if there is none."""
    drafts: dict[str, Draft] = st.session_state.setdefault(DRAFTS, {})
    if key not in drafts:
        drafts[key] = saved()
    return drafts[key]


def listener(
    key: str,
    names: Mapping[str, str],
    advised: Mapping[str, float | None],
    check: Check,
    who_stays: Callable[[], Container[str]] = frozenset,
) -> Callable[[Message], None]:
    """Return a function that changes the draft of a day when the list sends a message.

    Parameters
    ----------
    key
        Key of the day's draft.
    names, advised
        Names and advised lengths of everybody in the list, by code.
    check
        Says why a length may not be set.
    who_stays
        Returns the codes of those who cannot be away. It is called when somebody is marked as away,
        as the answer may have changed since the page was drawn.
    """

    def hear(message: Message) -> None:
        draft, code, value = draft_of(key, Draft), message.row, message.value
        if message.what == "choice" and value in CHOICES:
            draft = replace(draft, choice=str(value))
        elif message.what == "waves" and code.isdecimal() and str(value).isdecimal():
            waves = dict(draft.waves) | {int(code): int(value)}
            draft = replace(draft, waves=tuple(sorted(waves.items())))
        elif code not in names:
            return
        elif message.what == "tick" and value is False and code in who_stays():
            rows.refuse(code, STAYS)
        elif message.what == "tick" and isinstance(value, bool):
            away = draft.away - {code} if value else draft.away | {code}
            draft = replace(draft, away=away)
        elif message.what == "reset":
            draft = draft.without_length(code)
        elif message.what == "reason":
            draft = draft.with_reason(code, str(value).strip()[: rows.LONGEST_REASON])
        elif message.what == "number":
            draft = _with_typed(draft, code, str(value), advised.get(code), check)
        st.session_state[DRAFTS][key] = draft

    return hear


def _with_typed(
    draft: Draft,
    code: str,
    typed: str,
    advised: float | None,
    check: Check,
) -> Draft:
    length = rows.typed_number(typed)
    if length is None or length < 0:
        rows.refuse(code, NO_NUMBER)
        return draft
    if advised is not None and number(length) == number(advised):
        return draft.without_length(code)
    if wrong := check(code, length):
        rows.refuse(code, wrong)
        return draft
    st.session_state[rows.FOCUS] = f"reason {code}"
    return draft.with_length(code, length, draft.reason(code) or "")


@dataclass(frozen=True)
class Actions:
    """What the buttons under the rows of a day need to know.

    Attributes
    ----------
    measure, day : str, date
    told : str
        How many are here, and whether that is saved.
    same, saved : bool
        Whether everything is saved as it stands, and whether anything is saved.
    game : bool
        Whether it is a game, which has times and so calendars.
    """

    measure: str
    day: date
    told: str
    same: bool
    saved: bool
    game: bool


def show_actions(actions: Actions, save: Callable[[], None]) -> None:
    """Show the button that saves and prints, and the files of what is saved."""
    asked = f"day={actions.day}&measure={actions.measure}"
    sheet = at(f"/download/{'sheet' if actions.game else 'training'}.pdf?{asked}")
    kind = "game" if actions.game else "training"
    files = {"Phone view": f"{kind}.html", "Table (CSV)": f"{kind}.csv"} if actions.saved else {}
    with st.bottom, st.container(horizontal=True, vertical_alignment="center", key="today_actions"):
        # One button, so that a press right after typing never prints the old sheet.
        label = "Print" if actions.same else "Save and print"
        st.button(label, type="primary", key="save_and_print", on_click=rows.note_press)
        if rows.was_pressed():
            _print(sheet, None if actions.same else save)
        for name, path in files.items():
            st.link_button(name, at(f"/download/{path}?{asked}"), key=f"file_{path}")
        if actions.saved and actions.game:
            with st.popover("Calendars"):
                for name, path in (("Everybody's (ZIP)", "game.zip"), ("Staff's", "game.ics")):
                    st.link_button(name, at(f"/download/{path}?{asked}"), key=f"file_{path}")
        elements.quiet(actions.told)


def _print(sheet: str, save: Callable[[], None] | None) -> None:
    if save is not None:
        try:
            save()
        except StoreError as error:
            st.error(f"{error.title}. {error.message}")
            return
    st.session_state[rows.FILE] = {"address": sheet, "number": uuid4().hex}
    st.rerun()
