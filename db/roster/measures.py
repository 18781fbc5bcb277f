from __future__ import annotations

import math
import re
from dataclasses import astuple, dataclass, fields

import duckdb

from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.store import Store

CODE = re.compile(r"\w[\w.-]{0,39}")
BETTER = ("higher", "lower")
LARGEST_WORTHWHILE_PCT = 50.0


@dataclass(frozen=True)
class Measure:
    """What is tested.

    Attributes
    ----------
    code : str
        Code used in files.
    name, unit : str
        Name as shown and unit of a value.
    better : str
        higher or lower.
    volume_unit : str
        Unit of warm-up volume.
    standard_volume : float or None
        Volume the team does today; None when not set.
    worthwhile_pct : float
        Smallest worthwhile change in %.
    lowest, highest : float or None
        Plausible limits of a value; None for none. Every value is above zero.
    """

    code: str
    name: str
    unit: str
    better: str
    volume_unit: str = "efforts"
    standard_volume: float | None = None
    worthwhile_pct: float = 1.0
    lowest: float | None = None
    highest: float | None = None


LENGTH_UNITS = ("mm", "cm", "m", "in")


def kind_of_effort(measure: Measure) -> str:
    """Guess what is done in an effort: `jump`, `throw` or `sprint`; `other` if it is not clear.

    A measure where lower is better is a time, so a sprint. One whose code, name or volume unit
    mentions throws is a throw. Of the rest, a height or a distance is a jump.
    """
    if measure.better == "lower":
        return "sprint"
    if "throw" in f"{measure.code} {measure.name} {measure.volume_unit}".lower():
        return "throw"
    return "jump" if measure.unit in LENGTH_UNITS else "other"


_COLUMNS = ", ".join("measure" if field.name == "code" else field.name for field in fields(Measure))


def list_measures(store: Store) -> list[Measure]:
    """List the measures by name."""
    with store.reading() as cursor:
        return measures_of(cursor)


def get_measure(store: Store, code: str) -> Measure:
    """Return the measure with a code.

    Raises
    ------
    BadInput
        If there is none.
    """
    measures = {measure.code: measure for measure in list_measures(store)}
    if code not in measures:
        raise BadInput(f"There is no measure '{code}'. The measures are {', '.join(measures)}.")
    return measures[code]


def save_measure(store: Store, measure: Measure, person: str) -> None:
    """Add a measure, or change the one that has its code.

    Raises
    ------
    BadInput
        If something in it is not allowed, or stored efforts would lie outside its limits.
    """
    _check(measure)
    with store.writing(person, "save measure", measure.code) as cursor:
        _check_stored_values(cursor, measure)
        cursor.execute(
            f"INSERT INTO measure ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) "
            "ON CONFLICT (measure) DO UPDATE SET name = excluded.name, unit = excluded.unit, "
            "better = excluded.better, volume_unit = excluded.volume_unit, "
            "standard_volume = excluded.standard_volume, "
            "worthwhile_pct = excluded.worthwhile_pct, "
            "lowest = excluded.lowest, highest = excluded.highest",
            list(astuple(measure)),
        )


def routine_median_volume(store: Store, code: str) -> float | None:
    """Return the usual volume of routine sessions: the median of their medians, or None."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT median_volume FROM routine_volume WHERE measure = ?", [code]
        ).fetchone()
    return float(row[0]) if row else None


def measures_of(cursor: duckdb.DuckDBPyConnection) -> list[Measure]:
    """List the measures that a cursor sees."""
    rows = cursor.execute(f"SELECT {_COLUMNS} FROM measure ORDER BY name").fetchall()
    return [Measure(*row) for row in rows]


def limits_text(measure: Measure) -> str:
    """Write the limits of a value as text."""
    lowest, highest = measure.lowest, measure.highest
    if highest is None:
        return f"above 0 {measure.unit}" if lowest is None else f"{lowest:g} {measure.unit} and up"
    return f"{lowest or 0:g} to {highest:g} {measure.unit}"


def _check(measure: Measure) -> None:
    if not CODE.fullmatch(measure.code):
        raise BadInput(
            f"The code '{measure.code}' cannot be used for a measure. Take up to 40 letters, "
            "digits, '_', '-' and '.', such as jump_height."
        )
    for what in ("name", "unit", "volume_unit"):
        if not getattr(measure, what).strip():
            raise BadInput(f"The measure '{measure.code}' needs a {what.replace('_', ' ')}.")
    if measure.better not in BETTER:
        raise BadInput(
            f"The better direction of '{measure.code}' is '{measure.better}'; it must be "
            "'higher' or 'lower'."
        )
    _check_numbers(measure)


def _check_numbers(measure: Measure) -> None:
    worthwhile, standard = measure.worthwhile_pct, measure.standard_volume
    if not 0 < worthwhile <= LARGEST_WORTHWHILE_PCT:
        raise BadInput(
            f"The smallest worthwhile change of '{measure.code}' is {worthwhile:g} %; it must be "
            f"above 0 and at most {LARGEST_WORTHWHILE_PCT:g} %."
        )
    if standard is not None and not (math.isfinite(standard) and standard >= 0):
        raise BadInput(
            f"The standard volume of '{measure.code}' is {standard:g}; it must be 0 or above."
        )
    for what, limit in (("lowest", measure.lowest), ("highest", measure.highest)):
        if limit is not None and not (math.isfinite(limit) and limit > 0):
            raise BadInput(
                f"The {what} value of '{measure.code}' is {limit:g}; it must be above 0."
            )
    lowest, highest = measure.lowest, measure.highest
    if lowest is not None and highest is not None and lowest >= highest:
        raise BadInput(
            f"The lowest value of '{measure.code}' is {lowest:g} and the highest {highest:g}; "
            "the lowest must be below the highest."
        )


def _check_stored_values(cursor: duckdb.DuckDBPyConnection, measure: Measure) -> None:
    outside = fetch_number(
        cursor,
        "SELECT count(*) FROM effort_detail WHERE measure = ? AND (value < ? OR value > ?)",
        [measure.code, measure.lowest, measure.highest],
    )
    if outside:
        raise BadInput(
            f"{outside} stored efforts of '{measure.code}' lie outside the new limits. Widen "
            "the limits, or correct those efforts first."
        )
