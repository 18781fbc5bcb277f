"""Where the header of a table stands, how many rows it has, and what stands above it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from db.layouts.header_words import header_meaning, parted, unit_of
from db.layouts.plain_words import plain
from db.layouts.written_dates import looks_like_date

__all__ = ["FoundHeader", "find_header"]

Row = tuple[int, Sequence[str]]

LOOKED_AT = 60
"""How many rows at the start of a file are searched for its header."""
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)*")
_SAYS_NO_UNIT = re.compile(
    r"[-–—#]|n|no\.?|n/a|text|name|date|time|[dmyjahs]{1,4}(?:[./:-][dmyjahs]{1,4})+", re.IGNORECASE
)
_WEIGHTS = {"athlete": 3.0, "date": 3.0, "first name": 3.0, "last name": 3.0}


@dataclass(frozen=True)
class FoundHeader:
    """A header, and what stands above it.

    Attributes
    ----------
    names : tuple of str
        The name of each column, from all rows of the header, with its unit.
    rows : int
        How many rows there are from the first to the end of the header; the next row is the
        first of the table.
    above : tuple of (str, str)
        What is stated once for the whole table: `Date:` with the cell beside it. Titles have
        an empty name.
    plain : bool
        Whether the header is the first row alone.
    """

    names: tuple[str, ...]
    rows: int
    above: tuple[tuple[str, str], ...]
    plain: bool


def find_header(rows: Sequence[Row]) -> FoundHeader:
    """Find the header among the first rows of a file that are not empty.

    Parameters
    ----------
    rows : sequence of (int, sequence of str)
        The line and the cells of each row, at least one.
    """
    cells = [[cell.strip() for cell in row] for _, row in rows[:LOOKED_AT]]
    width = max(map(len, cells))
    cells = [[*row, *[""] * (width - len(row))] for row in cells]
    place = max(range(len(cells)), key=lambda each: (_score(cells, each), -each))
    first, last = place, place
    while first > 0 and lines_touch(rows, first) and _is_upper(cells[first - 1], cells[place]):
        first -= 1
    if last + 1 < len(cells) and _is_lower(cells[last], cells[last + 1]):
        last += 1
    end = last + 1
    used = max((at + 1 for row in cells[end:] for at, cell in enumerate(row) if cell), default=0)
    names = _joined(cells[first:end], used)
    if end < len(cells) and _is_units(cells[end]):
        names = [_with_unit(name, cell) for name, cell in zip(names, cells[end], strict=False)]
        end += 1
    return FoundHeader(tuple(names), end, tuple(_said_above(cells[:first])), end == 1)


def lines_touch(rows: Sequence[Row], place: int) -> bool:
    """Tell whether no empty line stands between a row and the one before."""
    return rows[place][0] - rows[place - 1][0] == 1


def _score(cells: Sequence[Sequence[str]], place: int) -> float:
    """Rate how much a row looks like a header; rows below it should hold numbers."""
    row = cells[place]
    filled = [cell for cell in row if cell]
    if not filled:
        return -1.0
    score = 0.0
    for cell in filled:
        if _NUMBER.fullmatch(cell):
            score += 0.2 if cell.isdigit() and int(cell) <= len(row) else -1.0
        elif looks_like_date(cell):
            score += 0.3
        else:
            meanings = header_meaning(parted(cell))
            score += max((_WEIGHTS.get(each, 1.5) for each in meanings), default=0.0)
            score += 0.3 if len(cell) <= 40 else -1.0
    below = [row for row in cells[place + 1 :] if any(row)]
    wide = max((sum(map(bool, row)) for row in below), default=0)
    if len(filled) < 2 or wide and len(filled) < wide / 2:
        score -= 3.0
    numbers = sum(1 for row in below if any(_NUMBER.fullmatch(cell) for cell in row))
    return score + (1.0 if numbers else -2.0)


def _is_upper(row: Sequence[str], header: Sequence[str]) -> bool:
    """Tell whether a row above a header groups some of its columns."""
    places = [place for place, cell in enumerate(row) if cell]
    if not places or places == [0] or set(places) <= {0, 1} and len(header) > 2:
        return False
    return not any(_NUMBER.fullmatch(row[place]) or looks_like_date(row[place]) for place in places)


def _is_lower(header: Sequence[str], row: Sequence[str]) -> bool:
    """Tell whether a row numbers or names columns below a header that has gaps."""
    if _is_units(row) or all(header):
        return False
    named = [place for place, cell in enumerate(row) if cell]
    gaps = [place for place, cell in enumerate(header) if not cell]
    short = all(not _NUMBER.fullmatch(row[at]) or row[at].isdigit() for at in named)
    return bool(named) and set(gaps) <= set(named) and short and len(named) < len(row)


def _is_units(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if cell]
    units = [cell for cell in filled if unit_of(cell)]
    return bool(units) and all(
        unit_of(cell) or _SAYS_NO_UNIT.fullmatch(cell.strip("()[] ")) for cell in filled
    )


def _joined(header: Sequence[Sequence[str]], used: int) -> list[str]:
    """Join each column's cells into its name; an upper cell spans empty ones to its right.

    Columns without a name at the end are left out, except the first `used` columns.
    """
    *upper, lowest = header
    filled = [_to_the_right(row) for row in upper]
    named = []
    for place, cell in enumerate(lowest):
        # If the lowest cell is empty, an upper one is the name of its own column only.
        pieces = [row[place] for row in (filled if cell else upper)] + [cell]
        if cell and header_meaning(parted(cell))[:1] in (("athlete",), ("date",), ("clock",)):
            pieces = [cell]
        named.append(" ".join(dict.fromkeys(piece for piece in pieces if piece)))
    return _told_apart(named, used)


def _to_the_right(row: Sequence[str]) -> list[str]:
    filled: list[str] = []
    for cell in row:
        filled.append(cell or (filled[-1] if filled else ""))
    return filled


def _told_apart(names: Sequence[str], used: int) -> list[str]:
    """Add a number to names that repeat, and name columns without a name by their place."""
    while len(names) > used and not names[-1]:
        names = names[:-1]
    apart: list[str] = []
    seen: dict[str, int] = {}
    for place, name in enumerate(names):
        name = name or f"column {place + 1}"
        seen[name.lower()] = seen.get(name.lower(), 0) + 1
        apart.append(name if seen[name.lower()] == 1 else f"{name} #{seen[name.lower()]}")
    return apart


def _with_unit(name: str, cell: str) -> str:
    return f"{name} ({unit_of(cell)})" if unit_of(cell) and not parted(name).unit else name


def _said_above(rows: Sequence[Sequence[str]]) -> list[tuple[str, str]]:
    said = []
    for row in rows:
        filled = [cell for cell in row if cell]
        if len(filled) == 2:
            said.append((filled[0].rstrip(": "), filled[1]))
        elif len(filled) == 1 and ":" in filled[0] and plain(filled[0].split(":")[0]) in _KEYS:
            name, _, value = filled[0].partition(":")
            said.append((name.strip(), value.strip()))
        else:
            said += [("", cell) for cell in filled]
    return said


_KEYS = ("date", "datum", "fecha", "data", "test", "measure", "unit", "athlete", "name", "day")
