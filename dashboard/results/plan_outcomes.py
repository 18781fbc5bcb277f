"""How plans were followed and what came of it, as frames and means."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.game.tables import done_word
from dashboard.screen import units
from db.file.store import Store
from db.fits.results import session_peaks
from db.plans.weeks import plans_between
from db.roster.measures import Measure
from modeling.trial.clustered_mean import CountedMean, clustered_mean

FOLLOWED = {"as planned": "followed", "changed": "not followed", "skipped": "not followed"}
KINDS = {"followed": ("followed", "not followed"), "range": ("inside", "outside")}
"""The two kinds of plan to compare, by the column that tells them apart."""
NEAR_DAYS = 28
"""Sessions up to this many days from a start make its level; if there are none, all others do."""


@dataclass(frozen=True)
class Outcomes:
    """What came of plans, in % of the athlete's level, by one of `KINDS`.

    Attributes
    ----------
    rows : DataFrame
        From `plan_outcomes`, of everybody or of one athlete.
    by : str
        Which of `KINDS`.
    means : dict of str to CountedMean
        Mean `against_level_pct` of each kind with enough values.
    within : CountedMean or None
        First kind minus second within athletes who have both, in percentage points.
    expected : float or None
        That difference as the curves expect it, for the same starts.
    """

    rows: pd.DataFrame
    by: str
    means: dict[str, CountedMean]
    within: CountedMean | None
    expected: float | None


def plan_outcomes(
    store: Store, measure: Measure, until: date, since: date = date.min
) -> pd.DataFrame:
    """Return the plans in force up to a day, the newest first, with what came of them.

    Columns of `db.plans.weeks.plans_between`; `done` (one of `dashboard.game.tables.DONE_WORDS`),
    `followed` (missing while nothing is recorded), `moved` (done minus set), `level` (of the
    athlete, from sessions of other days), `against_level_pct` (start value against it in %, above
    0 is better), `range` (whether what was done is inside or outside the athlete's good range;
    missing if either is not known yet), and `expected_pct` (minus what the curve says is lost).
    """
    rows = plans_between(store, measure.code, since, until)
    level = pd.Series(_levels(rows, session_peaks(store, measure.code)), rows.index, dtype=float)
    ratio = rows["start_value"].astype(float) / level
    share = ratio if measure.better == "higher" else 1.0 / ratio
    done = pd.Series([done_word(row) for row in rows.to_dict("records")], rows.index, dtype=object)
    return rows.iloc[::-1].assign(
        done=done,
        followed=done.map(FOLLOWED),
        moved=rows["done_volume"] - rows["chosen_volume"],
        level=level,
        against_level_pct=100.0 * (share - 1.0),
        **_by_the_curves(store, measure.code, rows),
    )


def _levels(rows: pd.DataFrame, peaks: pd.DataFrame) -> list[float]:
    """Return, for each row, the geometric mean of the athlete's peaks on other days."""
    own = {athlete: part for athlete, part in peaks.groupby("athlete")}
    found = []
    for athlete, day in zip(rows["athlete"], pd.to_datetime(rows["day"]), strict=True):
        others = own.get(athlete, peaks.head(0))
        apart = (others["started_at"].dt.normalize() - day).dt.days.abs()
        near = others[apart.between(1, NEAR_DAYS)]
        near = near if len(near) else others[apart > 0]
        found.append(float(np.exp(np.log(near["peak_value"]).mean())) if len(near) else np.nan)
    return found


def _by_the_curves(store: Store, measure: str, rows: pd.DataFrame) -> dict[str, pd.Series]:
    """Return `range` and `expected_pct` for what was done, by the newest curves."""
    good = responses(store, measure).set_index("athlete")[["good_from", "good_to"]]
    curves = kept_draws(store, measure)
    places: list[str | None] = []
    expected: list[float] = []
    for athlete, done in zip(rows["athlete"], rows["done_volume"].astype(float), strict=True):
        low, high = good.loc[athlete] if athlete in good.index else (np.nan, np.nan)
        known = not np.isnan([low, high, done]).any()
        places.append(("inside" if low <= done <= high else "outside") if known else None)
        curve = None if np.isnan(done) else curves.get(athlete)
        expected.append(-curve.lost_pct(done).median if curve else np.nan)
    return {
        "range": pd.Series(places, rows.index, dtype=object),
        "expected_pct": pd.Series(expected, rows.index, dtype=float),
    }


def outcomes(rows: pd.DataFrame, by: str = "followed") -> Outcomes:
    """Compare the two kinds of plan (`KINDS`) in rows of `plan_outcomes`."""
    kinds = KINDS[by]
    told = rows[rows["followed"].notna() & rows[by].notna() & rows["against_level_pct"].notna()]
    found = {
        kind: clustered_mean(part["against_level_pct"], part["athlete"])
        for kind in kinds
        if len(part := told[told[by] == kind])
    }
    apart = _apart(told, by, "against_level_pct")
    expected = _apart(told, by, "expected_pct")
    return Outcomes(
        rows,
        by,
        {kind: mean for kind, mean in found.items() if mean},
        clustered_mean(apart, np.arange(len(apart))),
        float(expected.mean()) if len(expected) else None,
    )


def _apart(rows: pd.DataFrame, by: str, value: str) -> pd.Series:
    """Return the first kind minus the second for every athlete who has both."""
    first, second = KINDS[by]
    means = rows.pivot_table(index="athlete", columns=by, values=value, aggfunc="mean")
    means = means.reindex(columns=[first, second])
    return (means[first] - means[second]).dropna()


def plan_table(rows: pd.DataFrame, measure: Measure) -> pd.DataFrame:
    """Return plans as people read them, newest first, with the outcome next to the name."""
    scale = units.shown(measure.unit)
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "against the level, %": rows["against_level_pct"].round(1),
            "day": rows["day"],
            "done": rows["done_volume"],
            "set": rows["chosen_volume"],
            "advised": rows["advised_volume"],
            "how": rows["done"],
            "good range": rows["range"],
            f"start value, {scale.unit}": scale.of(rows["start_value"].astype(float)).round(2),
            f"level, {scale.unit}": scale.of(rows["level"].astype(float)).round(2),
        }
    )
