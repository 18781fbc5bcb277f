"""A training day's plan as people read it: every estimate beside its interval."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import interval_texts


def day_plan(rows: pd.DataFrame, standard: float) -> pd.DataFrame:
    """Return the plan of a day from `dashboard.today.training_plan.plan_rows`."""
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "set": rows["chosen_volume"],
            "length": rows["length"],
            "lost %": rows["lost_pct"].round(1),
            "lost 90 %": interval_texts(rows, "lost_pct", 1),
            "good range": interval_texts(rows, "good", 0, ("_from", "_to")),
            "standard": standard,
            "call": rows["call"],
            "best 90 %": interval_texts(rows, "best_volume", 0),
            "reason": rows["reason"],
        }
    )
