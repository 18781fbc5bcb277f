"""Read a table by a mapping: into our columns and units, with one row per effort."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.errors import BadInput
from db.imports.mappings import CLOCK, CODED, OWN_UNITS, UNIT, ColumnMapping, Source, ValueColumn
from db.imports.units import converted, units_like
from db.layouts.tidying import tidied
from db.layouts.written_dates import date_in, time_of_day
from db.tables.cells import LONGEST_DATE, NUMBER, NUMBERS
from db.tables.file_rows import BrokenRow
from db.tables.limits import check_size
from db.tables.shown_texts import some_of
from db.tables.text_tables import RawTable, also_there
from db.tables.written_numbers import KEYED_IN, OURS, numbers_as_read


def mapped(
    table: RawTable, mapping: ColumnMapping, measure_units: Mapping[str, str], name: str = ""
) -> RawTable:
    """Read a table by a mapping: into our columns and units, with one row per effort.

    A row keeps its line of the file. Where efforts stand side by side, an empty cell is no
    effort, and a line without any effort gives one row with an empty value.

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
    table = tidied(table, mapping.tidying)
    frame = pd.DataFrame(
        {
            target: _texts(table, source.column)
            if source.column
            else np.full(len(table.frame), source.fixed, dtype=object)
            for target, source in mapping.sources.items()
            if source.column or source.fixed
        },
        dtype="str",
        index=pd.RangeIndex(len(table.frame)),
    )
    places = None
    if mapping.value_columns:
        frame, places = _one_below_another(frame, table, mapping.value_columns)
    for target in CODED:
        if codes := mapping.sources.get(target, Source()).codes:
            frame[target] = _by_text(frame[target], partial(_said, codes))
    clocks = frame.pop(CLOCK) if CLOCK in frame else None
    frame["started_at"] = _starts(frame["started_at"], clocks, mapping.time_form)
    for target, said in _numbers(frame, table, mapping).items():
        frame[target] = _by_text(frame[target], partial(_said, said))
    if mapping.session_minutes:
        frame["started_at"] = _session_starts(frame, mapping.session_minutes)
    _number_efforts(frame, mapping, places)
    read_clock = table.clock or mapping.clock
    frame.index = pd.Index(table.frame.index.to_numpy()[frame.index], name="line")
    broken = dict(table.broken)
    for target, source in mapping.sources.items():
        if source.unit and target != "value":
            frame[target] = _in_unit(frame[target], source.unit, OWN_UNITS[target])
    units = frame.pop(UNIT) if UNIT in frame else mapping.sources.get("value", Source()).unit
    if len(units):
        frame["value"] = _values(frame, units, measure_units, table, broken)
    return RawTable(
        frame,
        f"{table.name} ({name})" if name else table.name,
        hashlib.sha256(f"{table.sha256} {name}".encode()).hexdigest() if name else table.sha256,
        OURS,
        table.times_said or clocks is not None,
        read_clock,
        MappingProxyType(broken),
        origin=table,
        sheets=table.sheets,
    )


def _check_columns(table: RawTable, mapping: ColumnMapping) -> None:
    named = [source.column for source in mapping.sources.values() if source.column]
    missing = [
        name
        for name in (*named, *(each.column for each in mapping.value_columns))
        if name.strip().lower() not in table.frame.columns
    ]
    if missing:
        there = some_of(list(table.frame.columns))
        raise BadInput(
            f"The file {table.name} has no column '{missing[0]}', which the mapping names. It has "
            f"{there}. Choose another mapping, or change this one.{also_there(table.sheets)}"
        )


def _texts(table: RawTable, column: str) -> npt.NDArray[np.object_]:
    texts: npt.NDArray[np.object_] = (
        table.frame[column.strip().lower()].str.strip().to_numpy(object)
    )
    return texts


def _starts(dates: pd.Series, clocks: pd.Series | None, form: str) -> pd.Series:
    starts = _by_text(dates, partial(date_in, form=form))
    if clocks is None:
        return starts
    with_clock = starts.str.slice(stop=LONGEST_DATE) + "T" + _by_text(clocks, time_of_day)
    return with_clock.where(clocks != "", starts)


def _session_starts(frame: pd.DataFrame, minutes: int) -> pd.Series:
    """Return the start of each row's session; a gap of more than `minutes` begins a new one."""
    starts = pd.to_datetime(frame["started_at"], format="ISO8601", errors="coerce", utc=True)
    rows = pd.DataFrame(
        {"start": starts, "text": frame["started_at"], "place": np.arange(len(frame))}
    ).assign(athlete=frame["athlete"], measure=frame["measure"])
    rows = rows.sort_values(["athlete", "measure", "start", "place"], kind="stable")
    who = [rows["athlete"], rows["measure"]]
    gaps = rows.groupby(who, sort=False)["start"].diff()
    begins = gaps.isna() | (gaps > pd.Timedelta(minutes=minutes))
    first = rows["text"].where(begins).ffill().where(rows["start"].notna(), rows["text"])
    return pd.Series(
        first.to_numpy()[np.argsort(rows["place"].to_numpy())], frame.index, dtype="str"
    )


def _numbers(
    frame: pd.DataFrame, table: RawTable, mapping: ColumnMapping
) -> dict[str, dict[str, str]]:
    """Return by column and text how we would write each number, before any unit is changed."""
    written: dict[str, Collection[str]] = {}
    fixed: dict[str, Collection[str]] = {}
    for target in NUMBERS:
        if target in frame:
            said_once = mapping.sources.get(target, Source()).fixed
            (fixed if said_once else written)[target] = frame[target].unique().tolist()
    writing = table.writing
    if not writing.stated:
        writing = writing.with_mark(mapping.decimal_mark)
    return numbers_as_read(written, writing) | numbers_as_read(fixed, KEYED_IN)


def _one_below_another(
    frame: pd.DataFrame, table: RawTable, columns: Sequence[ValueColumn]
) -> tuple[pd.DataFrame, npt.NDArray[np.int64]]:
    """Return a row for each effort of a line, and the effort's place on the line, from 0.

    The index is the row of the file.
    """
    texts = [_texts(table, each.column) for each in columns]
    given = np.array([column != "" for column in texts], dtype=bool)
    given[0, ~given.any(axis=0)] = True
    check_size(table.name, rows=int(np.count_nonzero(given)))
    places, rows = np.nonzero(given)
    values = np.concatenate([column[here] for column, here in zip(texts, given, strict=True)])
    in_order = np.argsort(rows, kind="stable")
    rows, places = rows[in_order], places[in_order]
    below = frame.iloc[rows].set_axis(rows)
    for target in dict.fromkeys(name for each in columns for name in each.says):
        said = np.array([each.says.get(target, "") for each in columns], dtype=object)
        below[target] = pd.Series(said[places], rows, dtype="str")
    below["value"] = pd.Series(values[in_order], rows, dtype="str")
    return below, places


def _number_efforts(
    frame: pd.DataFrame, mapping: ColumnMapping, places: npt.NDArray[np.int64] | None
) -> None:
    """Give efforts without a number one, and count the volume before each up from the first."""
    if mapping.counted:
        counts = frame.groupby(["athlete", "started_at", "measure"], sort=False).cumcount()
        frame["effort"] = (counts + 1).astype(str).astype("str")
    if mapping.first_volume:
        frame["volume_before"] = pd.Series(mapping.first_volume, frame.index, dtype="str")
    numbered = bool(mapping.first_volume) or places is not None and mapping.volume_grows
    if numbered and "volume_before" in frame:
        pairs = zip(frame["volume_before"], frame["effort"], strict=True)
        frame["volume_before"] = pd.Series(
            [_grown(volume, effort) for volume, effort in pairs], frame.index, dtype="str"
        )


def _grown(volume: str, effort: str) -> str:
    more = float(effort) - 1 if NUMBER.fullmatch(effort) else 0
    return repr(float(volume) + more) if more and NUMBER.fullmatch(volume) else volume


def _in_unit(texts: pd.Series, unit: str, own: str) -> pd.Series:
    return _by_text(texts, lambda text: converted(text, unit, own))


def _values(
    frame: pd.DataFrame,
    units: pd.Series | str,
    measure_units: Mapping[str, str],
    table: RawTable,
    broken: dict[int, BrokenRow],
) -> pd.Series:
    """Convert values to the unit of their measure; rows that cannot be converted are broken."""
    values = frame["value"].to_numpy(dtype=object, copy=True)
    pairs = (
        frame["measure"].to_numpy(dtype=object),
        np.broadcast_to(np.asarray(units, dtype=object), len(frame)),
    )
    codes, different = pd.factorize(pd.MultiIndex.from_arrays(pairs))
    for place, (code, unit) in enumerate(different):
        here = codes == place
        own = measure_units.get(code, unit)
        if not unit or own == unit:
            continue
        if own in units_like(unit):
            values[here] = _in_unit(frame["value"][here], unit, own).to_numpy()
            continue
        lines = frame.index[here].unique()
        reason = f"{unit} cannot be turned into {own}, the unit of {code}"
        for line, text in zip(lines, table.row_texts(lines), strict=True):
            broken.setdefault(int(line), BrokenRow(reason, text))
    return pd.Series(values, frame.index, dtype="str")


def _by_text(texts: pd.Series, change: Callable[[str], str]) -> pd.Series:
    """Change each distinct text once."""
    codes, different = pd.factorize(texts)
    changed = pd.array([change(text) for text in different.tolist()], dtype="str")
    return pd.Series(changed.take(codes), texts.index, dtype="str")


def _said(instead: Mapping[str, str], text: str) -> str:
    return instead.get(text, text)
