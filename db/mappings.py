"""Reads files with other columns, other units, or efforts side by side, by a saved mapping."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from types import MappingProxyType

import numpy as np
import pandas as pd

from db.cells import NEEDED, NUMBER, PARSERS
from db.errors import BadInput
from db.file_rows import BrokenRow
from db.shown_texts import some_of
from db.text_tables import RawTable, also_there
from db.units import UNITS, converted, units_like

__all__ = [
    "CLOCK",
    "CODED",
    "OWN_UNITS",
    "TIME_FORMS",
    "ColumnMapping",
    "Source",
    "mapped",
    "mapping_from_json",
    "mapping_to_json",
]

# The time of day, where it has a column of its own beside the date.
CLOCK = "clock"
TARGETS = (*PARSERS, CLOCK)
OWN_UNITS = {
    "ambient_c": "°C",
    "load_kg": "kg",
    "general_minutes": "min",
    "rest_minutes": "min",
}
CODED = ("athlete", "measure")
"""What a file may call by other names than our codes."""
TIME_FORMS = ("year first", "day first", "month first")
_DATE = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})(?:[T, ]+(.*))?")
_TIME_OF_DAY = re.compile(
    r"(\d{1,2})[:.](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*(?:([ap])\.?m\.?)?((?:Z|[+-]\d{2}:?\d{2})?)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Source:
    """Where a column of ours comes from.

    Attributes
    ----------
    column : str
        The file's column; empty where the value is fixed.
    fixed : str
        The value of every row, where there is no column.
    unit : str
        The unit of the numbers in the file; empty where it is ours.
    codes : mapping of str to str
        Our code for what the file calls an athlete or a measure otherwise; all else is read
        as it is written.
    """

    column: str = ""
    fixed: str = ""
    unit: str = ""
    codes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ColumnMapping:
    """How a file with other columns is read as an efforts file.

    Attributes
    ----------
    sources : mapping of str to Source
        Where each column of ours, and `clock`, comes from; those absent stay empty.
    side_by_side : tuple of str
        The file's columns that hold the values of effort 1, 2, 3 ... of the session on the
        line; empty where every line is one effort. Their unit is that of `value`.
    volume_grows : bool
        Whether, side by side, `volume_before` is that of the first effort, and each effort
        adds one to it; else it is the same for all.
    time_form : str
        How dates are written, one of `TIME_FORMS`.
    """

    sources: Mapping[str, Source]
    side_by_side: tuple[str, ...] = ()
    volume_grows: bool = True
    time_form: str = "year first"

    def __post_init__(self) -> None:
        """Refuse a mapping that could read no file."""
        self._check_targets()
        if self.time_form not in TIME_FORMS:
            raise BadInput(
                f"Dates cannot be written '{self.time_form}'; the ways are {', '.join(TIME_FORMS)}."
            )
        doubled = [name for name in self.side_by_side if self.side_by_side.count(name) > 1]
        if doubled:
            raise BadInput(
                f"The column {doubled[0]} is named twice among the efforts side by side. Keep it "
                "once."
            )
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))

    def with_athletes(self, codes: Mapping[str, str]) -> ColumnMapping:
        """Give the same mapping with other codes for what the file calls athletes."""
        athlete = replace(self.sources["athlete"], codes=dict(codes))
        return replace(self, sources={**self.sources, "athlete": athlete})

    def _check_targets(self) -> None:
        unknown = [name for name in self.sources if name not in TARGETS]
        if unknown:
            raise BadInput(
                f"There is no column '{unknown[0]}' to fill; the columns are {', '.join(TARGETS)}."
            )
        of_its_own = {"effort", "value"} if self.side_by_side else set()
        missing = [name for name in NEEDED if name not in self.sources and name not in of_its_own]
        if missing:
            raise BadInput(
                f"The mapping does not say where {', '.join(missing)} comes from. Choose a column "
                "of the file or a fixed value."
            )
        if self.sources.get("athlete", Source()).fixed:
            raise BadInput(
                "The athlete must come from a column of the file, so that the mapping fits the "
                "files of all athletes."
            )
        for name, source in self.sources.items():
            self._check_source(name, source)

    def _check_source(self, name: str, source: Source) -> None:
        taken = self.side_by_side and name in ("effort", "value")
        if taken and (source.column or source.fixed):
            raise BadInput(
                f"The efforts stand side by side, so {name} cannot have a source of its own. Take "
                "one of the two out."
            )
        if not taken and bool(source.column) == bool(source.fixed):
            raise BadInput(
                f"The mapping must give {name} either a column of the file or a fixed value."
            )
        if source.codes and (name not in CODED or not source.column):
            raise BadInput(
                f"{name} cannot have names translated into codes; only {' and '.join(CODED)} can, "
                "where a column of the file holds them."
            )
        own = OWN_UNITS.get(name)
        allowed = [*UNITS] if name == "value" else units_like(own) if own else []
        if source.unit and source.unit not in allowed:
            what = f"the units are {', '.join(allowed)}" if allowed else "it has no unit to choose"
            raise BadInput(f"{name} cannot be in '{source.unit}'; {what}.")


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
            frame[target] = _by_text(frame[target], partial(_our_code, codes))
    clocks = frame.pop(CLOCK) if CLOCK in frame else None
    frame["started_at"] = _starts(frame["started_at"], clocks, mapping.time_form)
    if mapping.side_by_side:
        frame = _one_below_another(frame, table, mapping)
    frame.index = pd.Index(table.frame.index.to_numpy()[frame.index], name="line")
    broken = dict(table.broken)
    for target, source in mapping.sources.items():
        if source.unit and target != "value":
            frame[target] = _in_unit(frame[target], source.unit, OWN_UNITS[target], table)
    unit = mapping.sources.get("value", Source()).unit
    if unit:
        frame["value"] = _values(frame, unit, measure_units, table, broken)
    return RawTable(
        frame,
        f"{table.name} ({name})" if name else table.name,
        hashlib.sha256(f"{table.sha256} {name}".encode()).hexdigest() if name else table.sha256,
        table.decimal_comma,
        MappingProxyType(broken),
        origin=table,
        sheets=table.sheets,
    )


def mapping_to_json(mapping: ColumnMapping) -> str:
    """Write a mapping as JSON."""
    sources = {name: asdict(source) for name, source in mapping.sources.items()}
    return json.dumps(
        {
            "sources": sources,
            "side_by_side": mapping.side_by_side,
            "volume_grows": mapping.volume_grows,
            "time_form": mapping.time_form,
        },
        ensure_ascii=False,
    )


def mapping_from_json(text: str) -> ColumnMapping:
    """Read a mapping back.

    Raises
    ------
    BadInput
        If it is not one that `mapping_to_json` wrote, or could read no file.
    """
    try:
        said = json.loads(text)
        return ColumnMapping(
            {name: Source(**source) for name, source in said["sources"].items()},
            tuple(said["side_by_side"]),
            bool(said["volume_grows"]),
            said["time_form"],
        )
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise BadInput("The mapping cannot be read. Make it again and save it.") from error


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
    return starts.str.slice(stop=len("2026-03-01")) + "T" + _by_text(clocks, _time_of_day)


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
    frame: pd.DataFrame, table: RawTable, mapping: ColumnMapping
) -> pd.DataFrame:
    """Give each effort of a line a row of its own; the index is the row of the file."""
    columns = [name.strip().lower() for name in mapping.side_by_side]
    values = table.frame[columns].apply(lambda column: column.str.strip()).to_numpy(dtype=object)
    given = values != ""
    given[~given.any(axis=1), 0] = True
    rows, efforts = np.nonzero(given)
    below = frame.iloc[rows].set_axis(rows)
    below["effort"] = pd.Series((efforts + 1).astype(str), rows, dtype="str")
    below["value"] = pd.Series(values[rows, efforts], rows, dtype="str")
    if mapping.volume_grows and "volume_before" in below:
        pairs = zip(below["volume_before"], efforts.tolist(), strict=True)
        below["volume_before"] = [_grown(text, more, table) for text, more in pairs]
    return below


def _grown(text: str, more: int, table: RawTable) -> str:
    plain = _plain(text, table)
    return repr(float(plain) + more) if more and NUMBER.fullmatch(plain) else text


def _in_unit(texts: pd.Series, unit: str, own: str, table: RawTable) -> pd.Series:
    return _by_text(texts, lambda text: converted(_plain(text, table), unit, own))


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
            values[here] = _in_unit(frame["value"][here], unit, own, table).to_numpy()
        else:
            lines = frame.index[here].unique()
            reason = f"{unit} cannot be turned into {own}, the unit of {code}"
            for line, text in zip(lines, table.row_texts(lines), strict=True):
                broken.setdefault(int(line), BrokenRow(reason, text))
    return pd.Series(values, frame.index, dtype="str")


def _by_text(texts: pd.Series, change: Callable[[str], str]) -> pd.Series:
    """Change each different text once."""
    codes, different = pd.factorize(texts)
    changed = pd.array([change(text) for text in different], dtype="str")
    return pd.Series(changed.take(codes), texts.index, dtype="str")


def _our_code(codes: Mapping[str, str], text: str) -> str:
    return codes.get(text, text)


def _plain(text: str, table: RawTable) -> str:
    return text.replace(",", ".") if table.decimal_comma else text
