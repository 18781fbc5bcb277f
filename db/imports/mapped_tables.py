"""Reads a table by a mapping: our columns, our units, a row per effort."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import partial
from itertools import chain
from types import MappingProxyType

import numpy as np
import pandas as pd

from db.errors import BadInput
from db.imports.mappings import CLOCK, CODED, OWN_UNITS, ColumnMapping, Source
from db.imports.units import converted, units_like
from db.tables.cells import LONGEST_DATE, NUMBER, NUMBERS
from db.tables.file_rows import BrokenRow
from db.tables.limits import check_size
from db.tables.shown_texts import some_of
from db.tables.text_tables import RawTable, also_there
from db.tables.written_numbers import KEYED_IN, OURS, numbers_as_read

_DATE = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})(?:[T, ]+(.*))?")
_TIME_OF_DAY = re.compile(
    r"(\d{1,2})[:.](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*(?:([ap])\.?m\.?)?((?:Z|[+-]\d{2}:?\d{2})?)",
    re.IGNORECASE,
)


def mapped(
    table: RawTable, mapping: ColumnMapping, measure_units: Mapping[str, str], name: str = ""
) -> RawTable:
    """Read a table by a mapping: our columns, our units, a row per effort.

    A row keeps the line of the file; side by side, an empty cell is no effort, and a line
    without any gives one row with an empty value.

    Parameters
    ----------
    table : RawTable
        The file.
    mapping : ColumnMapping
        How to read it.
    measure_units : mapping of str to str
        The unit of each measure by code.
    name : str
        The name of the mapping, for the record of the import.

    Raises
    ------
    BadInput
        If the file lacks a column that the mapping names.
    """
    _check_columns(table, mapping)
    frame = pd.DataFrame(
        {
            target: table.frame[source.column.strip().lower()].str.strip().to_numpy()
            if source.column
            else np.full(len(table.frame), source.fixed, dtype=object)
            for target, source in mapping.sources.items()
            if source.column or source.fixed
        },
        dtype="str",
    )
    for target in CODED:
        if codes := mapping.sources[target].codes:
            frame[target] = _by_text(frame[target], partial(_said, codes))
    clocks = frame.pop(CLOCK) if CLOCK in frame else None
    frame["started_at"] = _starts(frame["started_at"], clocks, mapping.time_form)
    as_read = _numbers(frame, table, mapping)
    for target in as_read.keys() & set(frame.columns):
        frame[target] = _by_text(frame[target], partial(_said, as_read[target]))
    if mapping.side_by_side:
        frame = _one_below_another(frame, table, mapping, as_read["value"])
    frame.index = pd.Index(table.frame.index.to_numpy()[frame.index], name="line")
    broken = dict(table.broken)
    for target, source in mapping.sources.items():
        if source.unit and target != "value":
            frame[target] = _in_unit(frame[target], source.unit, OWN_UNITS[target])
    unit = mapping.sources.get("value", Source()).unit
    if unit:
        frame["value"] = _values(frame, unit, measure_units, table, broken)
    return RawTable(
        frame,
        f"{table.name} ({name})" if name else table.name,
        hashlib.sha256(f"{table.sha256} {name}".encode()).hexdigest() if name else table.sha256,
        OURS,
        table.times_said or clocks is not None,
        table.clock,
        MappingProxyType(broken),
        origin=table,
        sheets=table.sheets,
    )


def _check_columns(table: RawTable, mapping: ColumnMapping) -> None:
    named = [source.column for source in mapping.sources.values() if source.column]
    missing = [
        name
        for name in (*named, *mapping.side_by_side)
        if name.strip().lower() not in table.frame.columns
    ]
    if missing:
        there = some_of(list(table.frame.columns))
        raise BadInput(
            f"The file {table.name} has no column '{missing[0]}', which the mapping names. It has "
            f"{there}. Choose another mapping, or change this one.{also_there(table.sheets)}"
        )


def _starts(dates: pd.Series, clocks: pd.Series | None, form: str) -> pd.Series:
    starts = _by_text(dates, lambda text: _year_first(text, form))
    if clocks is None:
        return starts
    with_clock = starts.str.slice(stop=LONGEST_DATE) + "T" + _by_text(clocks, _time_of_day)
    return with_clock.where(clocks != "", starts)


def _numbers(
    frame: pd.DataFrame, table: RawTable, mapping: ColumnMapping
) -> dict[str, dict[str, str]]:
    """Say by column and text what numbers say in our own writing, before any unit is changed."""
    written: dict[str, Collection[str]] = {}
    fixed: dict[str, Collection[str]] = {}
    for target, source in mapping.sources.items():
        if target in NUMBERS and target in frame:
            (written if source.column else fixed)[target] = frame[target].unique().tolist()
    if mapping.side_by_side:
        columns = _side_by_side(table, mapping)
        written["value"] = dict.fromkeys(chain.from_iterable(map(pd.Series.unique, columns)))
    writing = table.writing
    if not writing.stated:
        writing = writing.with_mark(mapping.decimal_mark)
    return numbers_as_read(written, writing) | numbers_as_read(fixed, KEYED_IN)


def _side_by_side(table: RawTable, mapping: ColumnMapping) -> Iterator[pd.Series]:
    return (table.frame[name.strip().lower()].str.strip() for name in mapping.side_by_side)


def _year_first(text: str, form: str) -> str:
    """Write a date, and the time of day after it, as ISO 8601 does; else leave the text."""
    found = _DATE.fullmatch(text)
    if form == "year first" or not found:
        return text
    day, month = (1, 2) if form == "day first" else (2, 1)
    date = f"{found[3]}-{int(found[month]):02d}-{int(found[day]):02d}"
    return f"{date}T{_time_of_day(found[4])}" if found[4] else date


def _time_of_day(text: str) -> str:
    found = _TIME_OF_DAY.fullmatch(text.split("T")[-1].strip())
    if not found:
        return text
    hour = int(found[1])
    if found[4]:
        hour = hour % 12 + (12 if found[4].lower() == "p" else 0)
    return f"{hour:02d}:{found[2]}:{found[3] or '00'}{found[5]}"


def _one_below_another(
    frame: pd.DataFrame, table: RawTable, mapping: ColumnMapping, as_read: Mapping[str, str]
) -> pd.DataFrame:
    """Give each effort of a line a row of its own; the index is the row of the file."""
    given = np.array([(column != "").to_numpy(bool) for column in _side_by_side(table, mapping)])
    given[0, ~given.any(axis=0)] = True
    check_size(table.name, rows=int(np.count_nonzero(given)))
    efforts, rows = np.nonzero(given)
    values = [
        column.to_numpy(object)[here]
        for column, here in zip(_side_by_side(table, mapping), given, strict=True)
    ]
    in_order = np.argsort(rows, kind="stable")
    rows, efforts = rows[in_order], efforts[in_order]
    below = frame.iloc[rows].set_axis(rows)
    below["effort"] = pd.Series((efforts + 1).astype(str), rows, dtype="str")
    below["value"] = _by_text(
        pd.Series(np.concatenate(values)[in_order], rows, dtype="str"), partial(_said, as_read)
    )
    if mapping.volume_grows and "volume_before" in below:
        pairs = zip(below["volume_before"], efforts.tolist(), strict=True)
        below["volume_before"] = [_grown(text, more) for text, more in pairs]
    return below


def _grown(text: str, more: int) -> str:
    return repr(float(text) + more) if more and NUMBER.fullmatch(text) else text


def _in_unit(texts: pd.Series, unit: str, own: str) -> pd.Series:
    return _by_text(texts, lambda text: converted(text, unit, own))


def _values(
    frame: pd.DataFrame,
    unit: str,
    measure_units: Mapping[str, str],
    table: RawTable,
    broken: dict[int, BrokenRow],
) -> pd.Series:
    """Bring values into the unit of their measure; rows where that cannot be are broken."""
    values = frame["value"].to_numpy(dtype=object)
    measures = frame["measure"].to_numpy(dtype=object)
    for code in pd.unique(frame["measure"]):
        here = measures == code
        own = measure_units.get(code, unit)
        if own == unit or own in units_like(unit):
            values[here] = _in_unit(frame["value"][here], unit, own).to_numpy()
        else:
            lines = frame.index[here].unique()
            reason = f"{unit} cannot be turned into {own}, the unit of {code}"
            for line, text in zip(lines, table.row_texts(lines), strict=True):
                broken.setdefault(int(line), BrokenRow(reason, text))
    return pd.Series(values, frame.index, dtype="str")


def _by_text(texts: pd.Series, change: Callable[[str], str]) -> pd.Series:
    """Change each different text once."""
    codes, different = pd.factorize(texts)
    changed = pd.array([change(text) for text in different.tolist()], dtype="str")
    return pd.Series(changed.take(codes), texts.index, dtype="str")


def _said(instead: Mapping[str, str], text: str) -> str:
    return instead.get(text, text)
