"""Show values on screens in the club's units: metric as they are stored, or imperial.

Files, prints and typed values stay in the measure's own unit, so that no value comes in with the
wrong one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import pandas as pd

from dashboard.core import numbers
from dashboard.core.reader import known_reader, page_runs
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.imports.units import scale

__all__ = [
    "IMPERIAL",
    "SYSTEMS",
    "Shown",
    "keep_system",
    "kept_system",
    "shown",
    "system",
    "temperature",
    "told",
]

SYSTEMS = ("metric", "imperial")
SETTING = "units_on_screens"
Values = TypeVar("Values", float, pd.Series)


@dataclass(frozen=True)
class Shown:
    """How values of a unit are shown: in which unit, with factor and offset from stored ones."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0

    def of(self, stored: Values) -> Values:
        """Return stored values in the unit that is shown."""
        return stored * self.factor + self.offset

    def apart(self, difference: Values) -> Values:
        """Return a difference of stored values in the unit that is shown."""
        return difference * self.factor

    def back(self, typed: float) -> float:
        """Return the stored value for a value in the unit that is shown."""
        return (typed - self.offset) / self.factor


_INSTEAD = {
    "cm": "in",
    "m": "ft",
    "m/s": "ft/s",
    "km/h": "mph",
    "kg": "lb",
    "N": "lbf",
    "°C": "°F",
}
IMPERIAL = {unit: Shown(other, *scale(unit, other)) for unit, other in _INSTEAD.items()}


def shown(unit: str) -> Shown:
    """Return how to show values of a unit on the running page; elsewhere, they stay as they are."""
    return IMPERIAL.get(unit, Shown(unit)) if system() == "imperial" else Shown(unit)


def told(stored: pd.Series, unit: str) -> list[str]:
    """Return values as texts in the unit that is shown: `41.3 cm`, `16.26 in`."""
    scale = shown(unit)
    return [f"{numbers.figures(value)}\u00a0{scale.unit}" for value in scale.of(stored)]


def temperature(celsius: float) -> str:
    """Return a temperature as it is shown: `17 °C`, `63 °F`."""
    scale = shown("°C")
    return f"{numbers.number(scale.of(celsius))}\u00a0{scale.unit}"


def system() -> str:
    """Return the units of the reader's screen; metric if there is none."""
    if reader := known_reader():
        return reader.system
    if not page_runs():
        return SYSTEMS[0]
    from dashboard.screen.reads import ask

    return ask(kept_system)


def kept_system(store: Store) -> str:
    """Return the club's units on screens."""
    return get_setting(store, SETTING) or SYSTEMS[0]


def keep_system(store: Store, chosen: str, person: str) -> None:
    """Save the club's units on screens."""
    set_setting(store, SETTING, chosen, person)
