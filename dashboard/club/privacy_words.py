"""Plain sentences about what is held, erased and kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.core.numbers import capital, counted, listed, whole
from db.privacy.held_data import Held
from db.privacy.mentions import Mention
from db.privacy.retention import Kind

if TYPE_CHECKING:
    from dashboard.club.known_copies import KnownCopies

KEPT = {
    "sessions": "Sessions",
    "set-aside": "Rows set aside",
    "audit": "Trail",
    "web-sessions": "Sign-ins",
}
"""What is kept for a time, by the kinds of `db.privacy.retention`."""
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
TOLD_PLACES = {
    ("session", "note"): "note of a session",
    ("effort", "excluded"): "reason for leaving out an effort",
    ("effort_change", "new_excluded"): "reason for leaving out an effort",
    ("effort_change", "old_excluded"): "reason for leaving out an effort",
    ("effort_change", "reason"): "reason for a correction",
    ("taken_back_effort", "excluded"): "reason for leaving out an effort",
    ("taken_back_import", "reason"): "reason for taking back an import",
    ("finding_decision", "reason"): "reason for a decision on the data",
    ("plan", "reason"): "reason for a length",
    ("test_run", "ended_because"): "reason for ending a test",
    ("session_method", "device"): "device of a session",
    ("session_plan", "note"): "note of a session plan",
    ("session_plan", "name"): "name of a session plan",
    ("athlete", "position"): "position",
    ("athlete_squad", "squad"): "name of a squad",
    ("person_squad", "squad"): "name of a coach's squad",
    ("exercise", "name"): "name of an exercise",
    ("measure", "name"): "name of a measure",
    ("mapping", "mapping"): "name of a mapping",
    ("mapping", "mapping_json"): "what a mapping reads",
    ("mapping_athlete", "mapping"): "name of a mapping",
    ("mapping_athlete", "written"): "name in a file",
    ("import_batch", "file"): "name of an imported file",
    ("set_aside_row", "row_text"): "row set aside",
    ("setting", "value"): "setting",
    ("athlete_status", "reason"): "reason for a status",
    ("test_limit", "reason"): "reason for a limit of tests",
    ("measure_protocol", "effort"): "what is done in a test",
    ("measure_protocol", "arms"): "what is done in a test",
    ("measure_protocol", "depth"): "what is done in a test",
    ("measure_protocol", "ball"): "what is done in a test",
    ("measure_protocol", "beginning"): "what is done in a test",
    ("measure_protocol", "surface"): "what is done in a test",
    ("measure_protocol", "shoes"): "what is done in a test",
    ("fit", "warnings"): "caution of a fit",
    ("audit", "detail"): "line of the trail",
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
    """Return how many rows of each kind the store holds about an athlete."""
    counts = [
        f"{whole(found.rows[table])} {_PLURALS.get(noun, noun + 's')}"
        if found.rows[table] != 1
        else f"1 {noun}"
        for table, noun in TOLD_TABLES.items()
        if table in found.rows
    ]
    return (
        f"Saved: {listed(counts)}."
        if counts
        else "Nothing is saved of this athlete but the line in the list of athletes."
    )


def copies_sentence(copies: KnownCopies) -> str:
    """Return where data of an erased athlete may still be."""
    known = f" We know of these: {_paths(copies.finished)}." if copies.finished else ""
    being_written = (
        f" A copy is being written or could not be removed: {_paths(copies.unfinished)}. Check"
        " there later and delete it too."
        if copies.unfinished
        else ""
    )
    elsewhere = (
        f" Some are in {_paths(copies.out_of_reach)}, which cannot be reached now. Check there too."
        if copies.out_of_reach
        else ""
    )
    return (
        f"Older backups still hold the athlete, wherever they are.{known}{elsewhere}"
        f" Delete them once you have newer ones.{being_written} Imported files hold the athlete"
        " too: importing one again brings the rows back."
    )


def mentions_sentence(count: int, code: str) -> str:
    """Say that texts about others may mention the athlete, and what clearing them does."""
    return (
        f"{counted(count, 'texts')} about others may mention {code}. Part of a name may be an"
        " ordinary word, so each text stays unless you clear it. A whole name or an address is"
        " always taken out. Clearing empties notes, reasons and rows set aside; in names and in"
        " lines of the trail it takes out only the words."
    )


def mention_places(mention: Mention) -> str:
    """Return where a text is, and whose rows these are."""
    return "; ".join(
        TOLD_PLACES.get((place.table, place.column), f"{place.column} of {place.table}")
        + (f" of {listed(place.athletes)}" if place.athletes else "")
        + (f" ({counted(place.rows, 'times')})" if place.rows > 1 else "")
        for place in mention.places
    )


def mentions_table(found: Sequence[Mention]) -> pd.DataFrame:
    """Return the table of texts to keep or clear."""
    return pd.DataFrame(
        {
            "text": [mention.text for mention in found],
            "where": [mention_places(mention) for mention in found],
            "words": [", ".join(mention.words) for mention in found],
        }
    )


def erased_sentence(token: str, copies: KnownCopies, cleared: int) -> str:
    """Return what erasing an athlete has done."""
    texts = f" {counted(cleared, 'texts')} about others cleared." if cleared else ""
    return (
        f"Erased. Lines that had to stay say {token} now.{texts} The store's file was written"
        " anew, so nothing of the athlete is left in it. The squad's fits stay and say that"
        f" an athlete was erased. {copies_sentence(copies)}"
    )


def _paths(paths: Sequence[Path]) -> str:
    return listed([str(path) for path in paths])


def kept_sentence(kind: Kind, days: int | None) -> str:
    """Return how long something is kept."""
    length = "for ever" if days is None else f"for {counted(days, 'days')}"
    return f"{capital(kind.what)}: kept {length}"
