"""Numbers as people read them, every estimate with its interval.

Separators are those of the reader's locale (`dashboard.core.reader`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import pandas as pd
from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol

from dashboard.core import numbers
from dashboard.core.reader import reader_locale

LONGEST_WHOLE = re.compile(r"\d{1,9}", re.ASCII)

Row = Mapping[Any, Any]
"""A row of a frame, with typed columns or without; mostly one athlete's result, by the column names
of `db.fits.results.responses`."""


def whole_number(text: str) -> int | None:
    """Return the whole number in a text such as part of an address; None if it is not one."""
    return int(text) if LONGEST_WHOLE.fullmatch(text) else None


def number(value: float) -> str:
    """Return a set volume as people write it: `15`, `7.5`."""
    return _separated(f"{value:.1f}".removesuffix(".0"))


def decimal(value: float, digits: int) -> str:
    """Return a value with this many decimals, a true minus sign and no minus before zero."""
    return _separated(f"{value:z,.{digits}f}".replace("-", "\u2212"))


def figures(value: float, most: int = 4) -> str:
    """Return a value with at most this many significant figures: `41.3`, `40`, `0.0252`."""
    return _separated(f"{value:.{most}g}".replace("-", "\u2212"))


def signed(value: float, most: int = 2) -> str:
    """Return a difference with its sign and at most this many figures: `+0.4`, `\u22121.2`."""
    return _separated(f"{value:+.{most}g}".replace("-", "\u2212"))


def whole(count: int) -> str:
    """Return a count: `1,240`."""
    return _separated(f"{count:,}")


def percent(value: float, digits: int = 1) -> str:
    """Return a percentage with a non-breaking space and a true minus sign."""
    return f"{decimal(value, digits)}\u00a0%"


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: `1 session`, `5 sessions`, `1,240 efforts`."""
    singular = noun.removesuffix("s")
    return f"{whole(count)} {singular if count == 1 else singular + 's'}"


def volume(value: float, unit: str) -> str:
    """Return a set volume with its unit: `15 efforts`."""
    return f"{number(value)} {unit.removesuffix('s') if number(value) == '1' else unit}"


def measured(value: float, unit: str, most: int = 4) -> str:
    """Return a measured value with its unit, as precise as anybody types it: `39.8 cm`."""
    return f"{figures(value, most)}\u00a0{unit}"


def between(low: float, high: float, digits: int = 0) -> str:
    """Return the ends of an interval: `61 to 100`."""
    return f"{decimal(low, digits)} to {decimal(high, digits)}"


def estimated_volume(row: Row, name: str = "best_volume") -> str:
    """Return an estimated volume with its 90 % interval: `81 (61 to 100)`."""
    digits = 0 if row[name] >= 3 else 1
    return with_interval(row[name], row[f"{name}_low"], row[f"{name}_high"], digits)


def with_interval(value: float, low: float, high: float, digits: int) -> str:
    """Return an estimate with the ends of its interval: `1.03 (0.94 to 1.14)`."""
    return f"{decimal(value, digits)} ({between(low, high, digits)})"


def estimate_ends(row: Row, name: str = "best_volume") -> str:
    """Return the 90 % interval of an estimated volume, `61 and 100`."""
    return estimated_volume(row, name).partition("(")[2].rstrip(")").replace(" to ", " and ")


def estimated_percent(row: Row, name: str) -> str:
    """Return an estimated percentage with its 90 % interval: `2.7 % (1.5 to 4.1)`."""
    return percent_with_interval(row[name], row[f"{name}_low"], row[f"{name}_high"])


def percent_with_interval(value: float, low: float, high: float) -> str:
    """Return a percentage with the ends of its interval: `2.7 % (1.5 to 4.1)`."""
    return f"{percent(value)} ({between(low, high, 1)})"


def chance(share: float) -> str:
    """Return a chance (0 to 1) in whole per cent, never rounded to certainty."""
    if share < 0.01:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if share > 0.99 else percent(100 * share, 0)


def evidence(row: Row) -> str:
    """Return what stands behind a result: `5 sessions, 145 efforts`."""
    return f"{counted(int(row['sessions']), 'session')}, {counted(int(row['efforts']), 'effort')}"


def capital(text: str) -> str:
    """Return a text with a capital first letter, its other letters as they are."""
    return f"{text[:1].upper()}{text[1:]}"


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them: `A, B and C`."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def first_known(*values: float) -> float:
    """Return the first of several volumes that is not missing."""
    return next(float(value) for value in values if not pd.isna(value))


def separators() -> str:
    """Return decimal and group separator, as Plotly wants them."""
    locale = reader_locale()
    return get_decimal_symbol(locale) + get_group_symbol(locale)


def _separated(text: str) -> str:
    """Put the reader's separators into a number in English."""
    return text.translate(_exchange(reader_locale()))


@cache
def _exchange(locale: Locale) -> dict[int, str]:
    return {ord("."): get_decimal_symbol(locale), ord(","): get_group_symbol(locale)}


def interval_texts(
    rows: pd.DataFrame, name: str, digits: int, endings: tuple[str, str] = ("_low", "_high")
) -> list[str]:
    """Return the interval of each row between two of its columns; empty where one is missing."""
    ends = zip(*(rows[f"{name}{end}"] for end in endings), strict=True)
    return ["" if pd.isna(low) else numbers.between(low, high, digits) for low, high in ends]
