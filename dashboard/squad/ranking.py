"""The ranking of the squad as people read it: every estimate beside its interval."""

from __future__ import annotations

import pandas as pd

from dashboard.core import figures
from dashboard.core.numbers import interval_texts
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import curves
from db.file.store import Store


def squad(store: Store, measure: str) -> pd.DataFrame:
    """Return the active athletes' responses, longest first, each with its `small_curve`."""
    rows = responses(store, measure)
    rows = rows[rows["active"]].sort_values("best_volume", ascending=False)
    small = figures.small_curves(curves(store, measure))
    return rows.assign(small_curve=rows["athlete"].map(small)).reset_index(drop=True)


def ranking(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the ranking of `squad` rows, one line per athlete.

    Estimates are numbers, so that a column sorts by size; the column after each holds its
    90 % interval. `lost` is at the length, `at standard` at the standard volume.
    """
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "call": rows["call"],
            "length": rows["length"],
            "lost %": rows["lost_pct"].round(1),
            "lost 90 %": interval_texts(rows, "lost_pct", 1),
            "good range": interval_texts(rows, "good", 0, ("_from", "_to")),
            "curve": rows["small_curve"],
            "best": rows["best_volume"].round(1),
            "best 90 %": interval_texts(rows, "best_volume", 0),
            "at standard %": rows["loss_at_standard_pct"].round(1),
            "at standard 90 %": interval_texts(rows, "loss_at_standard_pct", 1),
            "gain %": rows["gain_pct"].round(1),
            "gain 90 %": interval_texts(rows, "gain_pct", 1),
            **{
                f"{call} %": _chances(rows[f"chance_{call}"])
                for call in ("short", "either", "long")
            },
            "sessions": rows["sessions"],
            "efforts": rows["efforts"],
            "last test": rows["last_session"],
        }
    )


def _chances(shares: pd.Series) -> pd.Series:
    """Return chances in whole %, never as certainties."""
    return (100 * shares).round().clip(1, 99)
