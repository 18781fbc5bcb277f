"""The demonstration squad's efforts as a fit would take them."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from demo_team.build import FOLDER
from demo_team.mistakes import USED

FACTS = "general_minutes rest_minutes ambient_c days_since_game".split()


def usable_rows(measure: str, folder: Path = FOLDER) -> pd.DataFrame:
    """Read a measure's efforts without the rows that are set aside or not used.

    Returns
    -------
    DataFrame
        Columns athlete, session, day (days since 1970), context, kind, volume (efforts), value,
        hour (of the start), readiness, and the facts of a session that a fit takes in.
    """
    rows = pd.read_csv(folder / f"{measure}.csv", dtype=str, keep_default_na=False)
    mistakes = pd.read_csv(folder / "mistakes.csv")
    lost = mistakes[(mistakes["file"] == f"{measure}.csv") & (mistakes["outcome"] != USED)]
    rows = rows[~rows.index.isin(lost["line"] - 2)]
    counted = rows["effort"].astype(float) - 1.0
    started_at = pd.to_datetime(rows["started_at"])
    return pd.DataFrame(
        {
            "athlete": rows["athlete"],
            "session": rows["athlete"] + " " + rows["started_at"],
            "day": (started_at - pd.Timestamp(0)) / pd.Timedelta(days=1),
            "context": rows["context"],
            "kind": rows["kind"],
            "volume": pd.to_numeric(rows["volume_before"]).fillna(counted),
            "value": rows["value"].astype(float),
            "hour": started_at.dt.hour + started_at.dt.minute / 60.0,
            "readiness": pd.to_numeric(rows["freshness"]),
            **{fact: pd.to_numeric(rows[fact]) for fact in FACTS},
        }
    ).reset_index(drop=True)
