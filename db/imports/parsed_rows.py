from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.imports.effort_files import check_columns
from db.imports.unusable_files import UnusableFile, unusable_file
from db.tables.cells import (
    FREE_TEXTS,
    IN_DOUBT,
    LONGEST_CELL,
    LONGEST_NUMBER,
    NEEDED,
    NUMBERS,
    PARSERS,
    Parser,
    lacks_time,
)
from db.tables.limits import MOST_SET_ASIDE, Progress, untold
from db.tables.shown_texts import shortened
from db.tables.text_tables import RawTable
from db.tables.written_numbers import numbers_as_read
from db.tables.written_starts import starts_as_read

Mask = npt.NDArray[np.bool_]
Objects = npt.NDArray[np.object_]
Places = npt.NDArray[np.int32]
Cells = Objects | pd.Series


_TEXTS_BETWEEN_LOOKS = 20_000


class Faults:
    """The first fault of each row of a table: the column and the reason.

    Parameters
    ----------
    table : RawTable
        The table.
    asked : frozenset of str
        What a person can state to settle rows, as in `ParsedRows`.
    """

    def __init__(self, table: RawTable, asked: frozenset[str]) -> None:
        rows = len(table.frame)
        self._table, self._asked = table, asked
        self.clear: Mask = np.ones(rows, dtype=bool)
        self.column: Objects = np.full(rows, None, dtype=object)
        self.reason: Objects = np.full(rows, None, dtype=object)

    def copy(self) -> Faults:
        """Return a copy; marking it leaves this one as it is."""
        copied = copy(self)
        copied.clear = self.clear.copy()
        copied.column, copied.reason = self.column.copy(), self.reason.copy()
        return copied

    def mark(self, faulty: Mask | pd.Series, column: str, reason: str, **cells: Cells) -> None:
        """Note a fault of some rows, unless they already have one.

        Parameters
        ----------
        faulty : array of bool, a row each
            The rows.
        column : str
            The column at fault.
        reason : str
            The reason, with the names of cells in braces.
        **cells : array or Series, a row each
            What to put in place of the names.

        Raises
        ------
        UnusableFile
            If more rows have a fault than may be set aside from one file.
        """
        places = np.flatnonzero(np.asarray(faulty, dtype=bool) & self.clear)
        room = MOST_SET_ASIDE + 1 - np.count_nonzero(~self.clear)
        too_many = len(places) >= room
        places = places[:room]
        self.clear[places] = False
        self.column[places] = column
        shown = [[_shown(cell) for cell in _taken(cells[name], places)] for name in cells]
        self.reason[places] = (
            [
                reason.format(**dict(zip(cells, row, strict=True)))
                for row in zip(*shown, strict=True)
            ]
            if cells
            else reason
        )
        if too_many:
            raise self._too_many()

    def _too_many(self) -> UnusableFile:
        faulty = np.flatnonzero(~self.clear)
        lines = self._table.frame.index[faulty]
        return unusable_file(
            self._table.name,
            f"More than {MOST_SET_ASIDE:,} rows, the most that are set aside of one file,",
            zip(lines, self.column[faulty], self.reason[faulty], strict=True),
            self._asked,
        )


@dataclass(frozen=True)
class ParsedRows:
    """The rows of an efforts file, each cell read on its own.

    Attributes
    ----------
    table : RawTable
        What was read.
    frame : DataFrame
        `line`, every column of the efforts format, and `utc_offset_minutes`; a cell that
        is empty, absent or at fault is missing. Numbers are floats, texts categories.
        Positions are those of the table's rows.
    faults : Faults
        What is wrong with single cells.
    ignored_columns : tuple of str
        Columns of the file that the format does not have.
    as_read : mapping of str to mapping of str to str
        By column and text, how we would write the cell, where that differs.
    asked : frozenset of str
        What the file does not show and the person who imports it can state: `clock` if starts
        have no time of day, `decimal_mark` if numbers have two meanings.
    """

    table: RawTable
    frame: pd.DataFrame
    faults: Faults
    ignored_columns: tuple[str, ...]
    as_read: Mapping[str, Mapping[str, str]]
    asked: frozenset[str]


def parse_rows(table: RawTable, progress: Progress = untold) -> ParsedRows:
    """Read every cell of a table, and note what cannot be read.

    Parameters
    ----------
    table : RawTable
        An efforts file.
    progress : callable, optional
        Called with the share done, from 0 to 1, and what is being done.

    Raises
    ------
    BadInput
        If the table lacks a needed column, or too many of its rows have a fault.
    """
    check_columns(table)
    progress(0.0, "Reading the cells")
    written = _different_texts(table.frame)
    as_read, asked = _as_read(table, {column: texts for column, (_, texts) in written.items()})
    faults = Faults(table, asked)
    lines = table.frame.index.to_numpy()
    for place in np.flatnonzero(np.isin(lines, list(table.broken))):
        faults.clear[place], faults.column[place] = False, "row"
        faults.reason[place] = table.broken[int(lines[place])].reason
    parsed: dict[str, Any] = {"line": lines}
    for done, (column, parser) in enumerate(PARSERS.items()):
        tell = partial(progress, done / len(PARSERS), f"Reading {column}")
        said = as_read.get(column, {})
        codes, values = _parsed_column(written[column], column, parser, said, faults, tell)
        if column == "started_at":
            parsed |= _moments(codes, values)
        elif column in NUMBERS:
            parsed[column] = values.astype(float)[codes]
        else:
            places, kept = pd.factorize(values)
            parsed[column] = pd.Categorical.from_codes(places[codes], pd.Index(kept, dtype=object))
    ignored = tuple(str(column) for column in table.frame if column not in PARSERS)
    frame = pd.DataFrame(parsed, copy=False)
    return ParsedRows(table, frame, faults, ignored, as_read, asked)


def looked_up(texts: pd.Series, values: Mapping[str, Any], missing: object) -> npt.NDArray[Any]:
    """Look up each text of a categorical column in `values`; `missing` if it is not there."""
    known = [values.get(text, missing) for text in texts.cat.categories]
    dtype = float if isinstance(missing, float) else object
    return np.array([*known, missing], dtype=dtype)[texts.cat.codes]


def _different_texts(frame: pd.DataFrame) -> dict[str, tuple[Places, list[str]]]:
    """Return the distinct texts of each column, and which of them each row has."""

    def different(column: str) -> tuple[Places, list[str]]:
        if column not in frame:
            return np.zeros(len(frame), dtype=np.int32), [""]
        places, texts = pd.factorize(frame[column])
        return places.astype(np.int32), texts.tolist()

    # More threads would need more memory than reading a file may take.
    with ThreadPoolExecutor(max_workers=2) as pool:
        return dict(zip(PARSERS, pool.map(different, PARSERS), strict=True))


def _as_read(
    table: RawTable, written: Mapping[str, Iterable[str]]
) -> tuple[dict[str, dict[str, str]], frozenset[str]]:
    """Return how we would write the cells, where that differs, and what is in doubt."""
    texts = {
        column: [text.strip() for text in written[column] if len(text) <= _longest(column)]
        for column in ("started_at", *NUMBERS)
    }
    starts, numbers = texts.pop("started_at"), texts
    read = numbers_as_read(numbers, table.writing)
    read["started_at"] = starts_as_read(starts, table.clock, table.times_said)
    asked = set()
    if any(lacks_time(read["started_at"].get(text, text)) for text in starts):
        asked.add("clock")
    said = (read[name].get(text, text) for name in numbers for text in numbers[name])
    if any(map(IN_DOUBT.fullmatch, said)):
        asked.add("decimal_mark")
    return read, frozenset(asked)


def _parsed_column(
    written: tuple[Places, list[str]],
    column: str,
    parser: Parser,
    said: Mapping[str, str],
    faults: Faults,
    tell: Callable[[], None],
) -> tuple[Places, Objects]:
    """Parse each distinct text of a column once; return each row's place among them, and values."""
    codes, texts = written
    values: Objects = np.full(len(texts), None, dtype=object)
    reasons: Objects = np.full(len(texts), None, dtype=object)
    wrong: Mask = np.zeros(len(texts), dtype=bool)
    for place, text in enumerate(map(str.strip, texts)):
        if place % _TEXTS_BETWEEN_LOOKS == 0:
            tell()
            # With so many wrong texts, `mark` below is sure to refuse the file: at most half of
            # them can be in rows that have a fault already.
            if np.count_nonzero(wrong) > 2 * MOST_SET_ASIDE:
                break
        values[place], reasons[place] = _parsed_text(said.get(text, text), column, parser)
        wrong[place] = reasons[place] is not None
    if wrong.any():
        faults.mark(wrong[codes], column, "{why}", why=reasons[codes])
    return codes, values


def _parsed_text(text: str, column: str, parser: Parser) -> tuple[object, str | None]:
    if not text:
        return None, "the cell is empty and is needed" if column in NEEDED else None
    longest = _longest(column)
    if len(text) > longest and column not in FREE_TEXTS:
        return None, f"'{shortened(text)}' has {len(text):,} characters; {longest} are allowed"
    try:
        return parser(text), None
    except ValueError as error:
        return None, str(error)


def _longest(column: str) -> int:
    return LONGEST_NUMBER if column in NUMBERS else LONGEST_CELL


def _moments(codes: Places, values: Objects) -> dict[str, Any]:
    walls = [None if moment is None else moment[0] for moment in values]
    offsets = [None if moment is None else moment[1] for moment in values]
    return {
        "started_at": np.array(walls, dtype="datetime64[us]")[codes],
        "utc_offset_minutes": np.array(offsets, dtype=float)[codes],
    }


def _taken(cells: Cells, places: npt.NDArray[np.signedinteger[Any]]) -> list[Any]:
    taken = cells.iloc[places] if isinstance(cells, pd.Series) else cells[places]
    values: list[Any] = taken.tolist()
    return values


def _shown(cell: object) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return "nothing" if np.isnan(cell) else f"{cell:.10g}"
    return "nothing" if cell is None else str(cell)
