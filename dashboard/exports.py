"""What `warmcurve export` and the downloads write: rows that are kept, or worked out when asked."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from dashboard.reliability_frames import BASES, MeasureReliability, measure_reliability
from dashboard.reliability_words import too_little
from db.efforts import measured
from db.errors import BadInput
from db.export_names import ExportName
from db.exports import export_frame
from db.measures import get_measure
from db.store import Store

QUANTITIES = {
    "typical_error": ("typical_error", "estimate"),
    "typical_error_low": ("typical_error", "low"),
    "typical_error_high": ("typical_error", "high"),
    "cv_pct": ("typical_error_pct", "estimate"),
    **{
        name: (name, "estimate")
        for name in "icc_3_1 icc_2_1 change_in_mean smallest_worthwhile minimal_detectable".split()
    },
}
"""Columns of the export of reliability: of which quantity, and which of its numbers."""


class CannotCompare(BadInput):
    """Nothing can be said of how well a measure repeats; the message says what is missing."""

    title = "This cannot be compared yet"


def export_rows(
    store: Store,
    what: ExportName,
    measure: str | None = None,
    say: Callable[[str], None] = lambda sentence: None,
) -> pd.DataFrame:
    """Return the rows of an export, of one measure or of all.

    Parameters
    ----------
    store, what, measure
        As for `db.exports.export_frame`.
    say
        Takes a sentence for every measure that is left out because it cannot be compared.

    Raises
    ------
    CannotCompare
        If reliability is asked for and no measure can be compared.
    """
    if what != "reliability":
        return export_frame(store, what, measure)
    asked = [get_measure(store, measure)] if measure else measured(store)
    records, lacking = [], []
    for each in asked:
        found = measure_reliability(store, each.code)
        if found.estimates.empty:
            lacking.append(f"{each.name}: {too_little(found)}")
        records += _records(each.code, found)
    if not records:
        raise CannotCompare(
            "\n".join(lacking)
            or "There are no efforts yet. Import a file of efforts, or enter a session."
        )
    for sentence in lacking:
        say(sentence)
    return pd.DataFrame.from_records(records)


def _records(measure: str, found: MeasureReliability) -> list[dict[str, object]]:
    """Return a row per basis that anything is known of."""
    rows = found.estimates.set_index(["basis", "quantity"])
    return [
        {
            "measure": measure,
            "basis": basis,
            "athletes": found.athletes,
            "sessions": found.sessions,
            **{
                column: rows[number].get((basis, quantity), float("nan"))
                for column, (quantity, number) in QUANTITIES.items()
            },
        }
        for basis in BASES
        if not rows.empty
    ]
