"""How plans were followed and what came of it, as frames and means."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from dashboard.game.tables import done_word
from dashboard.screen import units
from db.file.store import Store
from db.plans.weeks import plans_between
from db.roster.measures import Measure
from modeling.trial.clustered_mean import CountedMean, clustered_mean

FOLLOWED = {"as planned": "followed", "changed": "not followed", "skipped": "not followed"}


@dataclass(frozen=True)
class Outcomes:
    """What came of plans, in % of the level of the day.

    Attributes
    ----------
    rows : DataFrame
        As `plan_outcomes`, of everybody or of one athlete.
    means : dict of str to CountedMean
        Mean `against_level_pct` of plans `followed` and `not followed`, where there are enough.
    within : CountedMean or None
        Followed less not followed, in percentage points, of the same athletes.
    """

    rows: pd.DataFrame
    means: dict[str, CountedMean]
    within: CountedMean | None


def plan_outcomes(
    store: Store, measure: Measure, until: date, since: date = date.min
) -> pd.DataFrame:
    """Return choices in force up to a day, the newest first, with what can be said of them.

    Columns of `db.plans.weeks.plans_between`; `done` (one of `dashboard.game.tables.DONE_WORDS`),
    `followed` (missing while nothing is recorded), `moved` (done less set) and
    `against_level_pct` (start value against the level of that day in %, above 0 is better).
    """
    rows = plans_between(store, measure.code, since, until)
    ratio = rows["start_value"].astype(float) / rows["peak_value"].astype(float)
    share = ratio if measure.better == "higher" else 1.0 / ratio
    done = pd.Series([done_word(row) for row in rows.to_dict("records")], rows.index, dtype=object)
    return rows.iloc[::-1].assign(
        done=done,
        followed=done.map(FOLLOWED),
        moved=rows["done_volume"] - rows["chosen_volume"],
        against_level_pct=100.0 * (share - 1.0),
    )


def outcomes(rows: pd.DataFrame) -> Outcomes:
    """Compare plans that were followed with those that were not, in rows of `plan_outcomes`."""
    told = rows[rows["followed"].notna() & rows["against_level_pct"].notna()]
    found = {
        kind: clustered_mean(part["against_level_pct"], part["athlete"])
        for kind in dict.fromkeys(FOLLOWED.values())
        if len(part := told[told["followed"] == kind])
    }
    by_athlete = told.pivot_table(
        index="athlete", columns="followed", values="against_level_pct", aggfunc="mean"
    ).reindex(columns=list(dict.fromkeys(FOLLOWED.values())))
    apart = (by_athlete["followed"] - by_athlete["not followed"]).dropna()
    within = clustered_mean(apart, np.arange(len(apart)))
    return Outcomes(rows, {kind: mean for kind, mean in found.items() if mean}, within)


def plan_table(rows: pd.DataFrame, measure: Measure) -> pd.DataFrame:
    """Return plans and what came of them as people read them, newest first."""
    scale = units.shown(measure.unit)
    return pd.DataFrame(
        {
            "day": rows["day"],
            "athlete": rows["name"],
            "advised": rows["advised_volume"],
            "set": rows["chosen_volume"],
            "done": rows["done_volume"],
            "how": rows["done"],
            f"start value, {scale.unit}": scale.of(rows["start_value"].astype(float)).round(2),
            f"level, {scale.unit}": scale.of(rows["peak_value"].astype(float)).round(2),
            "against the level, %": rows["against_level_pct"].round(1),
        }
    )
