"""Clean up the cells of a table before its columns are read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from db.layouts.header_words import unit_of
from db.tables.text_tables import RawTable

__all__ = ["Tidying", "number_and_unit", "tidied"]

_NUMBER_AND_UNIT = re.compile(r"([+-]?[\d.,]*\d)\s*([^\d\s.,][^\d]*)")


@dataclass(frozen=True)
class Tidying:
    """How to clean up a table's cells before its columns are read.

    Attributes
    ----------
    joined : tuple of str
        Columns whose texts are joined, with spaces, into the first of them.
    filled : tuple of str
        Columns in which an empty cell means what stands above it.
    bare : mapping of str to str
        Columns of numbers with a unit after them, such as `38.4 cm`, and the unit to take off.
    """

    joined: tuple[str, ...] = ()
    filled: tuple[str, ...] = ()
    bare: Mapping[str, str] = field(default_factory=dict)


def tidied(table: RawTable, tidying: Tidying) -> RawTable:
    """Clean up a copy of a table that has the columns; `row_texts` still gives the file's texts."""
    if not (tidying.joined or tidying.filled or tidying.bare):
        return table
    frame = table.frame.copy(deep=False)
    for column in tidying.filled:
        frame[column] = frame[column].where(frame[column].str.strip() != "").ffill().fillna("")
    if tidying.joined:
        first, *others = tidying.joined
        frame[first] = frame[first].str.strip()
        for other in others:
            frame[first] = (frame[first] + " " + frame[other].str.strip()).str.strip()
    for column, unit in tidying.bare.items():
        frame[column] = frame[column].map(
            {text: _without_unit(text, unit) for text in frame[column].unique()}
        )
    return replace(table, frame=frame.astype("str"), origin=table.origin or table)


def number_and_unit(text: str) -> tuple[str, str]:
    """Split a text into a number and the unit after it; two empty texts if it is not that."""
    found = _NUMBER_AND_UNIT.fullmatch(text.strip())
    unit = unit_of(found[2]) if found else ""
    return (found[1], unit) if found and unit else ("", "")


def _without_unit(text: str, unit: str) -> str:
    number, behind = number_and_unit(text)
    return number if behind == unit else text
