"""Efforts as a coach types them: values in order, and the volume before each."""

from __future__ import annotations

import re

from db.efforts.typed_sessions import EffortEntry
from db.errors import BadInput

NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
SEPARATOR = re.compile(r"[\s;]+")
TIME_UNITS = frozenset({"minutes", "seconds"})


def typed_efforts(
    values: str, volumes: str, fade_test: bool, volume_unit: str
) -> tuple[EffortEntry, ...]:
    """Return the efforts that were typed.

    Parameters
    ----------
    values
        The values in the order in which they were made, with spaces or line breaks between.
    volumes
        The volume done before each effort, in the same way. One number is the volume before the
        first; each effort then adds one, unless volume is measured in time. Empty means 0 before
        the first effort of a fade test.
    fade_test
        Whether it was a fade test.
    volume_unit
        Unit of volume, such as `efforts` or `minutes`.

    Raises
    ------
    BadInput
        If something is not a number, nothing was typed, or the counts do not match.
    """
    results = _numbers(values, "values")
    before = _numbers(volumes, "volumes before")
    if not results:
        raise BadInput("No values were typed. Type them in order, with spaces between.")
    if not before:
        before = [_first_volume(fade_test, volume_unit)]
    if len(before) == 1 and volume_unit not in TIME_UNITS:
        before = [before[0] + number for number in range(len(results))]
    if len(before) != len(results):
        raise BadInput(
            f"There are {len(results)} values and {len(before)} volumes before. Type one volume"
            f" for each value{_or_one(volume_unit)}."
        )
    pairs = enumerate(zip(results, before, strict=True), start=1)
    return tuple(EffortEntry(number, value, volume) for number, (value, volume) in pairs)


def _first_volume(fade_test: bool, volume_unit: str) -> float:
    if fade_test:
        return 0.0
    raise BadInput(
        f"Say how many {volume_unit} were done before the first effort; only a fade test starts"
        " at 0 by itself."
    )


def _or_one(volume_unit: str) -> str:
    return "" if volume_unit in TIME_UNITS else ", or only the one before the first"


def _numbers(text: str, what: str) -> list[float]:
    """Return the numbers in a text; a comma inside a number is a decimal comma."""
    parts = [part for part in SEPARATOR.split(text.strip()) if part]
    for number, part in enumerate(parts, start=1):
        if not NUMBER.fullmatch(part):
            raise BadInput(
                f"Number {number} of the {what} is '{part}'. Type plain numbers such as 38.4,"
                " with spaces or new lines between."
            )
    return [float(part.replace(",", ".")) for part in parts]
