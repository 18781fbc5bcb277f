"""Plain sentences about the squad: no number without its interval or its count."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import (
    counted,
    estimated_volume,
    number,
)
from dashboard.core.palette import CALLS
from db.fits.results import KeptFit


def squad_headline(responses: pd.DataFrame) -> str:
    """Return the finding of the squad picture in one line."""
    calls = responses["call"].value_counts()
    known = int(calls.drop("not known", errors="ignore").sum())
    away = int(calls.reindex(["short", "long"]).fillna(0).sum())
    if not known:
        return f"Not known yet for any of {counted(len(responses), 'athlete')}"
    if not away:
        return f"The standard warm-up suits all {known} of {len(responses)} who are known"
    verb = "is" if away == 1 else "are"
    return f"{away} of {len(responses)} {verb} better off away from the standard warm-up"


def how_to_read_squad(measure_name: str, fit: KeptFit) -> str:
    """Return the line under the squad picture's title."""
    return (
        f"{measure_name}, {counted(fit.sessions, 'session')},"
        f" {counted(fit.efforts, 'effort')} · mark: most likely best volume, a triangle where"
        " another length is better, hollow if not known · thick: half, thin: 90\u00a0% of what is"
        " plausible"
    )


def squad_in_words(responses: pd.DataFrame, standard: float, unit: str) -> str:
    """Return the text equivalent of the squad picture."""
    groups = (_group(responses, call) for call in CALLS)
    return f"Best warm-up volume in {unit}, standard {number(standard)}. " + " ".join(
        group for group in groups if group
    )


def _group(responses: pd.DataFrame, call: str) -> str:
    rows = responses[responses["call"] == call].to_dict("records")
    named = ", ".join(f"{row['name']} {estimated_volume(row)}" for row in rows)
    return f"{call.capitalize()}: {named}." if rows else ""
