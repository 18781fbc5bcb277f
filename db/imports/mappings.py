"""How to read files with other columns, other units, or efforts side by side."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from types import MappingProxyType

from db.errors import BadInput
from db.imports.units import UNITS, units_like
from db.layouts.tidying import Tidying
from db.layouts.written_dates import DATE_FORMS
from db.tables.cells import NEEDED, PARSERS
from db.tables.written_numbers import OURS

__all__ = [
    "CLOCK",
    "CODED",
    "OWN_UNITS",
    "TIME_FORMS",
    "UNIT",
    "ColumnMapping",
    "Source",
    "ValueColumn",
    "mapping_from_json",
    "mapping_to_json",
]

# The time of day, if it has its own column beside the date.
CLOCK = "clock"
# The unit of the value, if every row states its own.
UNIT = "unit"
TARGETS = (*PARSERS, CLOCK, UNIT)
OWN_UNITS = {
    "ambient_c": "°C",
    "load_kg": "kg",
    "general_minutes": "min",
    "rest_minutes": "min",
    "effort_rest_seconds": "s",
}
CODED = ("athlete", "measure", UNIT)
"""Columns in which a file may use other names than our codes."""
TIME_FORMS = DATE_FORMS


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
        Our code by the file's own name for an athlete, a measure or a unit; any other text is
        read as it is written.
    """

    column: str = ""
    fixed: str = ""
    unit: str = ""
    codes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ValueColumn:
    """A column in which every filled cell is one effort.

    Attributes
    ----------
    column : str
        The file's column.
    says : mapping of str to str
        What is the same for all its efforts, by our column, such as `measure`, `unit`, or
        `started_at` if every day has its own column.
    """

    column: str
    says: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ColumnMapping:
    """How a file with other columns is read as an efforts file.

    Attributes
    ----------
    sources : mapping of str to Source
        Where each of our columns, and `clock` and `unit`, come from; those absent stay empty.
    side_by_side : tuple of str
        The file's columns that hold the values of effort 1, 2, 3 ... of the session on the
        line; empty if every line is one effort. Their unit is that of `value`.
    volume_grows : bool
        Whether `volume_before` of efforts side by side is that of the first, and each effort
        adds one; otherwise it is the same for all.
    time_form : str
        How dates are written, one of `TIME_FORMS`.
    decimal_mark : str
        The decimal mark, one of `DECIMAL_MARKS`; empty if the file shows it.
    values : tuple of ValueColumn
        Columns of efforts side by side whose headers say more than the number of the effort;
        empty if there are none.
    counted : bool
        Whether efforts have no number and are counted within athlete, start and measure.
    first_volume : str
        The volume before the first effort of every session, to which each effort adds one;
        empty if the file gives it, or it follows from the kind of session.
    clock : str
        The time of day for rows that have only a date, such as 09:30; empty if not stated.
    session_minutes : int
        The longest gap, in minutes, between two efforts of an athlete in one session, which
        starts with the first effort; 0 if the file gives the start of the session.
    tidying : Tidying
        What is done to the cells first.
    shape : tuple of str
        The header of files that are read with this mapping unasked; empty if there is none.
    answers : mapping of str to str
        What a person answered when it was made, so that one answer can be changed later.
    """

    sources: Mapping[str, Source]
    side_by_side: tuple[str, ...] = ()
    volume_grows: bool = True
    time_form: str = "year first"
    decimal_mark: str = ""
    values: tuple[ValueColumn, ...] = ()
    counted: bool = False
    first_volume: str = ""
    clock: str = ""
    session_minutes: int = 0
    tidying: Tidying = Tidying()
    shape: tuple[str, ...] = ()
    answers: Mapping[str, str] = field(default_factory=dict)

    @property
    def value_columns(self) -> tuple[ValueColumn, ...]:
        """The columns of efforts side by side, from `values` or `side_by_side`."""
        numbered = enumerate(self.side_by_side, start=1)
        return self.values or tuple(
            ValueColumn(column, {"effort": str(number)}) for number, column in numbered
        )

    def __post_init__(self) -> None:
        """Refuse a mapping that could not read any file."""
        self._check_targets()
        if self.time_form not in TIME_FORMS:
            raise BadInput(
                f"Dates cannot be written '{self.time_form}'; the ways are {', '.join(TIME_FORMS)}."
            )
        OURS.with_mark(self.decimal_mark)
        doubled = [name for name in self.side_by_side if self.side_by_side.count(name) > 1]
        if doubled:
            raise BadInput(
                f"The column {doubled[0]} is named twice among the efforts side by side. Keep it "
                "once."
            )
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))

    def with_athletes(self, codes: Mapping[str, str]) -> ColumnMapping:
        """Return the same mapping with other codes for the file's names of athletes."""
        if "athlete" not in self.sources:
            return self
        athlete = replace(self.sources["athlete"], codes=dict(codes))
        return replace(self, sources={**self.sources, "athlete": athlete})

    def _check_targets(self) -> None:
        unknown = [name for name in self.sources if name not in TARGETS]
        if unknown:
            raise BadInput(
                f"There is no column '{unknown[0]}' to fill; the columns are {', '.join(TARGETS)}."
            )
        of_its_own = {"effort", "value"} if self.side_by_side else set()
        of_its_own |= {"value"} if self.values else set()
        of_its_own |= {"effort"} if self.counted else set()
        for each in self.values:
            of_its_own |= set(each.says)
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


_PLAIN_FIELDS = (
    "volume_grows",
    "time_form",
    "decimal_mark",
    "counted",
    "first_volume",
    "clock",
    "session_minutes",
)


def mapping_to_json(mapping: ColumnMapping) -> str:
    """Write a mapping as JSON."""
    tidying = mapping.tidying
    return json.dumps(
        {
            "sources": {name: asdict(source) for name, source in mapping.sources.items()},
            "side_by_side": mapping.side_by_side,
            "values": [{"column": each.column, "says": dict(each.says)} for each in mapping.values],
            "tidying": {
                "joined": tidying.joined,
                "filled": tidying.filled,
                "bare": dict(tidying.bare),
            },
            "shape": mapping.shape,
            "answers": dict(mapping.answers),
        }
        | {name: getattr(mapping, name) for name in _PLAIN_FIELDS},
        ensure_ascii=False,
    )


def mapping_from_json(text: str) -> ColumnMapping:
    """Read a mapping back.

    Raises
    ------
    BadInput
        If `mapping_to_json` did not write it, or it could not read any file.
    """
    try:
        said = json.loads(text)
        tidying = said.get("tidying", {})
        return ColumnMapping(
            {name: Source(**source) for name, source in said["sources"].items()},
            tuple(said["side_by_side"]),
            values=tuple(
                ValueColumn(each["column"], dict(each["says"])) for each in said.get("values", [])
            ),
            tidying=Tidying(
                tuple(tidying.get("joined", ())),
                tuple(tidying.get("filled", ())),
                dict(tidying.get("bare", {})),
            ),
            shape=tuple(said.get("shape", ())),
            answers=dict(said.get("answers", {})),
            **{name: said[name] for name in _PLAIN_FIELDS if name in said},
        )
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise BadInput("The mapping cannot be read. Make it again and save it.") from error
