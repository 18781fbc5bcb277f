"""Plain sentences about what is held, erased and kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dashboard.numbers import counted, listed, whole
from db.privacy import Held
from db.retention import Kind

KEPT = {
    "sessions": "Sessions",
    "set-aside": "Rows set aside",
    "audit": "Trail",
    "web-sessions": "Sign-ins",
}
"""What is kept for a time, by the kinds of `db.retention`."""
TOLD_TABLES = {
    "session": "session",
    "effort": "effort",
    "effort_change": "correction or exclusion",
    "plan": "length set",
    "plan_outcome_change": "note of what was done",
    "trial": "trial",
    "session_plan": "session plan",
    "lifted_set": "lifted set",
    "private_link": "private link",
    "response": "result of a fit",
    "set_aside_row": "row set aside",
    "audit": "line of the trail",
}
_PLURALS = {
    "correction or exclusion": "corrections or exclusions",
    "length set": "lengths set",
    "note of what was done": "notes of what was done",
    "result of a fit": "results of fits",
    "row set aside": "rows set aside",
    "line of the trail": "lines of the trail",
}


def held_sentences(found: Held) -> list[str]:
    """Return what the store holds about an athlete."""
    shown = "" if found.name == found.code else f", {found.name}"
    accounts = f"account {listed(found.accounts)}" if found.accounts else "no account"
    return [f"{found.code}{shown}: {accounts}.", counts_sentence(found)]


def counts_sentence(found: Held) -> str:
    """Return how much of what the store holds about an athlete."""
    counts = [
        f"{whole(found.rows[table])} {_PLURALS.get(noun, noun + 's')}"
        if found.rows[table] != 1
        else f"1 {noun}"
        for table, noun in TOLD_TABLES.items()
        if table in found.rows
    ]
    return (
        f"Held: {listed(counts)}." if counts else "Nothing beyond the athlete's own line is held."
    )


def copies_sentence(copies: Sequence[Path]) -> str:
    """Return where an athlete who is erased still stands."""
    known = f" Those known here: {listed([str(copy) for copy in copies])}." if copies else ""
    return (
        "Backups that were made before still hold the athlete, in whatever folder they are."
        f"{known}"
        " Delete them once newer ones have been made. Files that were imported hold the athlete"
        " too, and importing one again brings the rows back."
    )


def erased_sentence(token: str, copies: Sequence[Path]) -> str:
    """Return what erasing an athlete has done."""
    return (
        f"Erased. Where a line had to stay, it says {token}. The store's file was written anew, so"
        " that no bytes of the athlete are left in it. The squad's fits stay and say that an"
        f" athlete was erased. {copies_sentence(copies)}"
    )


def kept_sentence(kind: Kind, days: int | None) -> str:
    """Return how long something is kept."""
    length = "for ever" if days is None else f"for {counted(days, 'days')}"
    return f"{kind.what[0].upper()}{kind.what[1:]}: kept {length}"
