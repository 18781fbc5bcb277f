"""Plates as people write them, and loads as people read them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dashboard.core.numbers import figures, measured
from db.errors import BadInput
from db.imports.units import scale
from modeling.errors import ModelError
from modeling.lifting.barbell import AS_MANY, Barbell

USUAL_BARS = {"kg": 20.0, "lb": 45.0}
USUAL_PLATES = {"kg": "25; 20; 15; 10; 5; 2.5; 1.25", "lb": "45; 35; 25; 10; 5; 2.5"}
HOW_TO_WRITE = "such as 20 x 2; 10; 5: two pairs of 20, as many of 10 and 5 as are needed"
_PLATE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:[x×*]\s*(\d{1,2}))?")


def barbell_of(bar: float, plates: str) -> Barbell:
    """Return a bar with the plates that a text names.

    Raises
    ------
    BadInput
        If the text cannot be read, or a weight is not allowed.
    """
    pairs = []
    for part in plates.split(";"):
        if not part.strip():
            continue
        written = _PLATE.fullmatch(part.strip())
        if written is None:
            raise BadInput(f"'{part.strip()}' is no plate. Write plates {HOW_TO_WRITE}.")
        weight, count = written.groups()
        pairs.append((float(weight.replace(",", ".")), AS_MANY if count is None else int(count)))
    try:
        return Barbell(bar, tuple(pairs))
    except ModelError as error:
        raise BadInput(f"{error} Write plates {HOW_TO_WRITE}.") from error


def load_text(load: float, unit: str) -> str:
    """Return a load with its unit: `102.5 kg`."""
    return measured(round(load, 2), unit, 6)


def each_side_text(plates: Sequence[float]) -> str:
    """Return the plates on one side: `25 + 15`, or `bar alone`."""
    return " + ".join(figures(plate, 6) for plate in plates) or "bar alone"


def to_kg(load: float, unit: str) -> float:
    """Return a load in kg."""
    return load * scale(unit, "kg")[0]


def from_kg(load_kg: float, unit: str) -> float:
    """Return a load in a unit, given in kg."""
    return load_kg * scale("kg", unit)[0]
