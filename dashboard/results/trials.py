"""A trial as its page needs it: which session is next, and what its blocks say."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from dashboard.screen import units
from db.roster.measures import Measure
from modeling.trial.paired_trial import TrialResult, trial_result

MOST_BLOCKS = 50


@dataclass(frozen=True)
class Trial:
    """One trial of an athlete, from rows of `db.plans.trials.trial_sessions`.

    Attributes
    ----------
    trial_id : int
    first_volume, second_volume : float
        The lengths, to do.
    sessions : DataFrame
        Its sessions in their drawn order.
    running : bool
        Whether it is still running: nobody ended it, and some session has no start value.
    """

    trial_id: int
    first_volume: float
    second_volume: float
    sessions: pd.DataFrame
    running: bool

    @property
    def blocks(self) -> int:
        """How many blocks it was set up with."""
        return len(self.sessions) // 2

    @property
    def recorded(self) -> int:
        """How many sessions have a start value."""
        return int(self.sessions["outcome"].notna().sum())

    @property
    def otherwise(self) -> int:
        """How many recorded sessions were done with another length than drawn."""
        rows = self.sessions[self.sessions["outcome"].notna()]
        return int((rows["done_volume"].notna() & (rows["done_volume"] != rows["volume"])).sum())

    def next_to_set(self) -> pd.Series | None:
        """Return the first session that is not set for a day yet, if any."""
        rows = self.sessions[self.sessions["plan_id"].isna()]
        return None if rows.empty else rows.iloc[0]

    def result(self, better: str) -> TrialResult | None:
        """Compare the lengths as they were drawn, over the blocks that are complete."""
        values = self.sessions.assign(outcome=self.sessions["outcome"].astype(float)).pivot(
            index="block", columns="is_second", values="outcome"
        )
        return trial_result(values[False], values[True], better == "higher")


def trials_of(rows: pd.DataFrame) -> list[Trial]:
    """Return the trials in rows of `db.plans.trials.trial_sessions`, the newest first."""
    return [
        Trial(
            trial_id=int(str(number)),
            first_volume=float(part["first_volume"].iloc[0]),
            second_volume=float(part["second_volume"].iloc[0]),
            sessions=part.sort_values("place"),
            running=bool(part["ended_at"].isna().all() and part["outcome"].isna().any()),
        )
        for number, part in rows.groupby("trial_id", sort=False)
    ]


def trial_table(trial: Trial, measure: Measure) -> pd.DataFrame:
    """Return a trial's sessions as people read them, with the value next to the length."""
    rows, scale = trial.sessions, units.shown(measure.unit)
    return pd.DataFrame(
        {
            "session": rows["place"],
            f"length, {measure.volume_unit}": rows["volume"],
            f"start value, {scale.unit}": scale.of(rows["outcome"].astype(float)).round(2),
            "day": rows["day"],
            "done": rows["done_volume"],
            "block": rows["block"],
        }
    )
