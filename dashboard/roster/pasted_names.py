"""Names as people paste them: a line each, from a list, a spreadsheet or a message."""

from __future__ import annotations

import re
from collections.abc import Sequence

from db.roster.athlete_changes import Athlete

_LEADING = re.compile(r"^\s*(?:\d{1,3}[.)\s]\s*|[-*\u2022\u2013]\s+)")
_BETWEEN_CELLS = re.compile(r"[\t;]")


def pasted_names(text: str, squads: Sequence[str] = ()) -> list[Athlete]:
    """Return an athlete for each line with a name; codes are made when they are saved.

    A number or a bullet before a name is left out. The position follows a tab or a semicolon:
    spreadsheets put tabs between cells.
    """
    found = []
    for line in text.splitlines():
        name, *others = _BETWEEN_CELLS.split(_LEADING.sub("", line))
        if name := " ".join(name.split()):
            position = next((each.strip() for each in others if each.strip()), None)
            found.append(Athlete("", name, position, squads=tuple(squads)))
    return found
