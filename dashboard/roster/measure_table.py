"""Every measure with its settings, as people read them."""

from __future__ import annotations

from math import isfinite

import pandas as pd

from dashboard.core.numbers import percent
from dashboard.rules.club_limits import most_allowed
from dashboard.rules.worthwhile_source import worthwhile_source
from db.file.store import Store
from db.roster.measures import Measure, limits_text, list_measures

DIRECTION = {"higher": "more is better", "lower": "less is better"}


def measure_table(store: Store) -> pd.DataFrame:
    """Return a row per measure, by name."""
    return pd.DataFrame([_row(store, measure) for measure in list_measures(store)])


def _row(store: Store, measure: Measure) -> dict[str, str]:
    most, standard, unit = (
        most_allowed(store, measure),
        measure.standard_volume,
        measure.volume_unit,
    )
    return {
        "measure": measure.name,
        "unit": measure.unit,
        "direction": DIRECTION[measure.better],
        "values": limits_text(measure),
        "standard": "from routine sessions" if standard is None else f"{standard:g} {unit}",
        "most": f"{most:g} {unit}" if isfinite(most) else "no limit",
        "worth having from": percent(measure.worthwhile_pct),
        "where that is from": worthwhile_source(store, measure),
        "code in files": measure.code,
    }
