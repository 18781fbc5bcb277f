"""Plain sentences for the plan of a day."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import Row, counted, estimated_volume, volume
from dashboard.curve import words
from dashboard.rules import goals
from db.fits.results import KeptFit


def plan_caption(rows: pd.DataFrame, fit: KeptFit, unit: str, efforts_to_follow: int) -> str:
    """Return the line over the plan of a day: what is advised for what, and on what evidence."""
    kept = int(rows["chosen_volume"].notna().sum())
    return (
        f"In {unit}. Advised for {goals.goal(efforts_to_follow)}, from"
        f" {counted(fit.sessions, 'session')} and {counted(fit.efforts, 'effort')}."
        f" Set: {kept} of {len(rows)}."
    )


def choice_sentence(row: Row, standard: float, unit: str) -> str:
    """Return advice and standard side by side for the coach who decides."""
    if pd.isna(row["length"]):
        return f"No curve yet: nothing is advised. The standard is {volume(standard, unit)}."
    return (
        f"{words.length_sentence(row, standard, unit)}"
        f" {words.good_range_sentence(row, unit)}"
        f" Best volume {estimated_volume(row)}, call: {row['call']}."
    )
