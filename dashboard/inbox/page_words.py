"""Plain sentences about the inbox."""

from __future__ import annotations

from dashboard.core.numbers import counted

NONE_WATCHED = (
    "No folder is watched. Start the dashboard with `warmcurve serve --inbox FOLDER`, and files "
    "that appear there are imported by themselves."
)
NOT_YOURS = "The inbox is for those who see all athletes, as its files may be about anybody."


def waiting_sentence(count: int) -> str:
    """Return that files wait in the inbox for a person."""
    verb = "waits" if count == 1 else "wait"
    return f"{counted(count, 'file')} {verb} in the inbox for somebody to look at."
