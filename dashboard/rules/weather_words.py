"""Heat and cold, in one sentence each; the club's own rules come first."""

from __future__ import annotations

from modeling.day.caution import COLD_C, HOT_C


def air(ambient_c: float | None, planned: bool = False) -> str:
    """Return what to mind at this temperature; empty if it is neither hot nor cold.

    A `planned` warm-up has its minutes and times already, so nobody is told to change them.
    """
    if ambient_c is None:
        return ""
    if ambient_c >= HOT_C:
        return (
            f"{ambient_c:.0f}\u00a0°C: follow your organisation's heat rules."
            + ("" if planned else " Shorten the general part and begin later.")
            + " Drink, rest in the shade, and stop at dizziness or chills."
        )
    if ambient_c <= COLD_C:
        return (
            f"{ambient_c:.0f}\u00a0°C: "
            + ("" if planned else "give the general part some minutes more, and ")
            + "keep warm clothing on until the start and while waiting."
        )
    return ""
