"""Numbers as people read them, every estimate with its interval."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import pandas as pd

Row = Mapping[Hashable, Any]
"""One athlete's result, by the column names of `db.results.responses`."""


def number(value: float) -> str:
    """Return a set volume as people write it: `15`, `7.5`."""
    return f"{value:.1f}".removesuffix(".0")


def percent(value: float, digits: int = 1) -> str:
    """Return a percentage with a space that never breaks and a true minus sign."""
    return f"{_rounded(value, digits)}\u00a0%"


def _rounded(value: float, digits: int) -> str:
    """Return a rounded value with a true minus sign and no minus before zero."""
    return f"{value:z.{digits}f}".replace("-", "\u2212")


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: `1 session`, `5 sessions`, `1,240 efforts`."""
    singular = noun.removesuffix("s")
    return f"{count:,} {singular if count == 1 else singular + 's'}"


def volume(value: float, unit: str) -> str:
    """Return a set volume with its unit: `15 efforts`."""
    return f"{number(value)} {unit.removesuffix('s') if number(value) == '1' else unit}"


def between(low: float, high: float, digits: int = 0) -> str:
    """Return the ends of an interval: `61 to 100`."""
    return f"{_rounded(low, digits)} to {_rounded(high, digits)}"


def estimated_volume(row: Row, name: str = "best_volume") -> str:
    """Return an estimated volume with its 90 % interval: `81 (61 to 100)`."""
    digits = 0 if row[name] >= 3 else 1
    return f"{row[name]:.{digits}f} ({between(row[f'{name}_low'], row[f'{name}_high'], digits)})"


def with_interval(value: float, low: float, high: float, digits: int) -> str:
    """Return an estimate with the ends of its interval: `1.03 (0.94 to 1.14)`."""
    return f"{_rounded(value, digits)} ({between(low, high, digits)})"


def estimate_ends(row: Row, name: str = "best_volume") -> str:
    """Return the 90 % interval of an estimated volume, `61 and 100`."""
    return estimated_volume(row, name).partition("(")[2].rstrip(")").replace(" to ", " and ")


def estimated_percent(row: Row, name: str) -> str:
    """Return an estimated percentage with its 90 % interval: `2.7 % (1.5 to 4.1)`."""
    return f"{percent(row[name])} ({between(row[f'{name}_low'], row[f'{name}_high'], 1)})"


def chance(share: float) -> str:
    """Return a chance (0 to 1) in whole per cent, never rounded to certainty."""
    if share < 0.01:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if share > 0.99 else percent(100 * share, 0)


def evidence(row: Row) -> str:
    """Return what stands behind a result: `5 sessions, 145 efforts`."""
    return f"{counted(int(row['sessions']), 'session')}, {counted(int(row['efforts']), 'effort')}"


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them: `A, B and C`."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def first_known(*values: float) -> float:
    """Return the first of several volumes that is not missing."""
    return next(float(value) for value in values if not pd.isna(value))
