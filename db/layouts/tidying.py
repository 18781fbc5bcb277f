"""What is done to the cells of a table before its columns are read."""

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
    """What is done to a table's cells before its columns are read.

    Attributes
    ----------
    joined : tuple of str
        Columns whose texts are put together, with spaces, in the first of them.
    filled : tuple of str
        Columns in which an empty cell means what stands above it.
    bare : mapping of str to str
        Columns of numbers with their unit behind them, which is taken off: `38.4 cm`.
    """

    joined: tuple[str, ...] = ()
    filled: tuple[str, ...] = ()
    bare: Mapping[str, str] = field(default_factory=dict)


def tidied(table: RawTable, tidying: Tidying) -> RawTable:
    """Do it to a copy; the columns must be there. Lines keep their texts as the file has them."""
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
    """Give a number and the unit behind it; empty texts where it is none with a unit."""
    found = _NUMBER_AND_UNIT.fullmatch(text.strip())
    unit = unit_of(found[2]) if found else ""
    return (found[1], unit) if found and unit else ("", "")


def _without_unit(text: str, unit: str) -> str:
    number, behind = number_and_unit(text)
    return number if behind == unit else text
