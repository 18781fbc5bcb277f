"""Estimates of reliability as people read them: in the unit, in % or as sessions."""

from __future__ import annotations

from math import ceil, log10

import pandas as pd

from dashboard.core.numbers import Row, between, counted, percent, with_interval
from dashboard.fits.reliability_frames import MeasureReliability
from dashboard.screen import units
from dashboard.trust.reliability_charts import Estimates
from db.roster.measures import Measure

IN_UNIT = (
    "typical_error",
    "minimal_detectable",
    "between_athletes",
    "smallest_worthwhile",
    "change_in_mean",
    "lower_limit",
    "upper_limit",
)
"""Estimates in the unit of the values; the others are in % or have no unit."""

MOST_SESSIONS = 99


def estimates_of(kept: MeasureReliability, basis: str, unit: str) -> Estimates:
    """Return the estimates of one basis by the name of their quantity, in the unit shown."""
    rows = kept.estimates[kept.estimates["basis"] == basis]
    in_unit = rows["quantity"].isin(IN_UNIT)
    factors = in_unit.map({True: units.shown(unit).factor, False: 1.0})
    ends = zip(*(factors * rows[end] for end in ("estimate", "low", "high")), strict=True)
    return dict(zip(rows["quantity"], ends, strict=True))


def session_pairs(kept: MeasureReliability, basis: str, unit: str) -> pd.DataFrame:
    """Return each athlete's sessions in pairs, as the limits of agreement use them.

    Columns: `name`, `mean`, `difference` (second less first), in the unit shown.
    """
    rows = kept.compared.dropna(subset="trial")
    pair = (rows["trial"].astype(int) + 1) // 2
    pairs = rows.groupby(["athlete", pair]).agg(
        name=("name", "first"),
        first=(f"{basis}_value", "first"),
        second=(f"{basis}_value", "last"),
        sessions=("session_id", "size"),
    )
    full, scale = pairs[pairs["sessions"] == 2], units.shown(unit)
    return pd.DataFrame(
        {
            "name": full["name"],
            "mean": scale.of((full["first"] + full["second"]) / 2),
            "difference": scale.apart(full["second"] - full["first"]),
        }
    ).reset_index(drop=True)


def sessions_needed(row: Row, target: str, noun: str = "sessions") -> str:
    """Return a number of sessions with its interval: `30 sessions (17 to 47)`."""
    likely, low, high = (row[f"{target}_sessions{end}"] for end in ("", "_low", "_high"))
    if pd.isna(likely):
        return "not known"
    if likely > MOST_SESSIONS:
        return f"more than {MOST_SESSIONS} {noun}".rstrip()
    most = f"to {high:.0f}" if high <= MOST_SESSIONS else f"to more than {MOST_SESSIONS}"
    shown = counted(int(likely), noun) if noun else f"{likely:.0f}"
    return f"{shown} ({min(low, likely):.0f} {most})"


def _digits(found: Estimates) -> int:
    """Return how many decimals show two significant figures of the typical error."""
    return int(min(max(ceil(-log10(found["typical_error"][0])) + 1, 0), 4))


def plain_estimate(ends: tuple[float, float, float], found: Estimates) -> str:
    """Return an estimate with its interval, without a unit."""
    return with_interval(*ends, _digits(found))


def in_unit(ends: tuple[float, float, float], found: Estimates, measure: Measure) -> str:
    """Return an estimate with its unit and its interval."""
    value, _, interval = plain_estimate(ends, found).partition(" ")
    return f"{value}\u00a0{units.shown(measure.unit).unit} {interval}"


def percents(ends: tuple[float, ...], digits: int = 1) -> str:
    """Return an estimate in % with its interval, if it has one."""
    value, low, high = ends
    known = low == value == high
    return percent(value, digits) + ("" if known else f" ({between(low, high, digits)})")
