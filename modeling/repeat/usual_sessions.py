"""Which sessions may be compared with each other, and the values to compare."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import chi2

from modeling.repeat.detection import best_of_bias
from modeling.repeat.variance_components import Bounded, percent_of

__all__ = ["LEAST_UNITS", "SHARE", "UsualSessions", "usual_sessions"]

SHARE = 0.25
LEAST_UNITS = 2.0
"""A volume within a quarter of the usual one, or two units if that is more, counts as usual. Our
choice: near the usual volume a curve changes by less than the noise of a day."""


@dataclass(frozen=True)
class UsualSessions:
    """Routine sessions, with those at about the usual volume numbered as trials.

    Attributes
    ----------
    sessions : DataFrame
        A row per session in order of time: `athlete`, `session`, `trial` (1, 2, 3 ... of the
        athlete; missing where the volume was not usual), `mean`, `best` (the best to expect of
        `usual_efforts` efforts).
    usual_efforts : int
        Median number of efforts of the sessions with a trial; 0 where there are none.
    effort_log_sd : float
        Standard deviation of an effort's logarithm about the mean of its session.
    effort_df : int
        Its degrees of freedom.
    """

    sessions: pd.DataFrame
    usual_efforts: int
    effort_log_sd: float
    effort_df: int

    @property
    def trials(self) -> pd.DataFrame:
        """The sessions that may be compared."""
        return self.sessions[self.sessions["trial"].notna()]

    def effort_noise_pct(self) -> Bounded | None:
        """Spread of efforts within a session in %; None if no session has two efforts."""
        return self._effort_pct(1.0) if self.effort_df else None

    def best_above_mean_pct(self) -> Bounded | None:
        """How far the best of the usual number of efforts lies from their mean by noise alone.

        It is in %; None if no session has two efforts that differ.
        """
        if self.effort_log_sd <= 0.0:
            return None
        return self._effort_pct(best_of_bias(self.usual_efforts))

    def _effort_pct(self, factor: float) -> Bounded:
        """Return the standard deviation of an effort, times a factor, in %."""
        ends = np.sqrt(self.effort_df / chi2.ppf([0.95, 0.05], self.effort_df))
        sd = Bounded(1.0, float(ends[0]), float(ends[1])).times(self.effort_log_sd)
        return percent_of(sd.times(factor))


def usual_sessions(efforts: pd.DataFrame, higher_is_better: bool = True) -> UsualSessions:
    """Pick the sessions at about their athlete's usual volume.

    The usual volume of an athlete is the median over sessions of the median volume within
    each. The best of n efforts lies `best_of_bias(n)` standard deviations of an effort above
    their mean by noise alone, so bests are adjusted to the usual number of efforts.

    Parameters
    ----------
    efforts : DataFrame
        Efforts of routine sessions, in order of time within each athlete: `athlete`,
        `session`, `volume`, `value` (above 0); nothing missing.
    higher_is_better : bool
        Whether the best is the largest value.
    """
    logs = efforts.assign(log=np.log(efforts["value"].astype(float)))
    grouped = logs.groupby("session", sort=False)
    sessions = grouped.agg(
        athlete=("athlete", "first"),
        volume=("volume", "median"),
        mean=("value", "mean"),
        best=("value", "max" if higher_is_better else "min"),
        efforts=("value", "size"),
    ).reset_index()
    usual = sessions.groupby("athlete")["volume"].transform("median")
    near = (sessions["volume"] - usual).abs() <= np.maximum(SHARE * usual, LEAST_UNITS)
    order = near.groupby(sessions["athlete"]).cumsum()
    compared = sessions[near]
    usual_efforts = int(compared["efforts"].median()) if len(compared) else 0
    within = logs[logs["session"].isin(compared["session"])].groupby("session")["log"]
    counts = within.size().to_numpy(float)
    squares, df = float(within.var(ddof=0).to_numpy(float) @ counts), int((counts - 1).sum())
    sd = float(np.sqrt(squares / df)) if df else 0.0
    if usual_efforts:
        extra = sessions["efforts"].map(best_of_bias) - best_of_bias(usual_efforts)
        sessions["best"] *= np.exp((-sd if higher_is_better else sd) * extra)
    sessions["trial"] = order.where(near)
    columns = ["athlete", "session", "trial", "mean", "best"]
    return UsualSessions(sessions[columns], usual_efforts, sd, df)
