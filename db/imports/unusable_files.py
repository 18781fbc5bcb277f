"""Refuse a file with so many unusable rows that setting them all aside would help nobody."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable

from db.errors import BadInput
from db.tables.shown_texts import shortened


class UnusableFile(BadInput):
    """Too many rows cannot be used, so the file as a whole is not what it is read as.

    Attributes
    ----------
    asked : frozenset of str
        What the person who imports it can state to settle rows, as in `ParsedRows`.
    """

    def __init__(self, message: str, asked: Collection[str]) -> None:
        super().__init__(message)
        self.asked = frozenset(asked)


def unusable_file(
    name: str,
    found: str,
    faults: Iterable[tuple[int, str, str]],
    asked: Collection[str],
) -> UnusableFile:
    """Return the error for a file, with the column that is most often at fault and an example.

    Parameters
    ----------
    name : str
        Name of the file.
    found : str
        How many rows cannot be used, as the subject of a sentence.
    faults : iterable of int, str and str
        The line, the column and the reason of each.
    asked : collection of str
        As in `UnusableFile`.
    """
    counts: Counter[str] = Counter()
    first: dict[str, tuple[int, str]] = {}
    for line, column, reason in faults:
        counts[column] += 1
        first.setdefault(column, (line, reason))
    ((column, of_column),) = counts.most_common(1)
    line, reason = first[column]
    where = "" if column == "row" else f" in the column {shortened(column)}"
    return UnusableFile(
        f"{found} of the file {name} cannot be used, most of them for a fault{where} "
        f"({of_column:,} of {counts.total():,}). On line {line}: {reason}. Put that right, or "
        "read the file by a mapping if its columns mean something else. Nothing was stored.",
        asked,
    )
