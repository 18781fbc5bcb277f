"""A store read from Python: what it holds and what fits say, as data frames."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.app.exports import export_rows
from db.efforts.rows import sessions
from db.file.store import Store
from db.plans.lengths import all_plans

__all__ = ["PLAN_COLUMNS", "SESSION_COLUMNS", "StoreFrames", "open_store"]

SESSION_COLUMNS = (
    "athlete measure started_at kind context efforts excluded_efforts largest_volume lowest_value"
    " highest_value general_minutes rest_minutes effort_rest_seconds ambient_c days_since_game"
    " load_kg planned_volume freshness joints mobility pain note"
).split()
PLAN_COLUMNS = (
    "day athlete measure second_game goal efforts_to_follow standard_volume advised_volume"
    " chosen_volume done_volume outcome"
).split()


@dataclass(frozen=True)
class StoreFrames:
    """A store to read: every call opens the file, reads one state of it and closes it again.

    So it works while a dashboard is running. Nothing here writes.

    Attributes
    ----------
    store : Store
        The file.

    Notes
    -----
    Units: values in the measure's unit, volumes in its volume unit as done, changes in %, minutes,
    degrees Celsius; times in local clock time.
    Missing values: facts that nobody gave, or that a fit could not give, are missing.
    Source: the store; responses and curves by the newest fit of each measure.
    """

    store: Store

    def efforts(self, measure: str | None = None) -> pd.DataFrame:
        """Give all efforts as an efforts file, including those that are excluded.

        Parameters
        ----------
        measure : str, optional
            A code; None takes all measures.

        Returns
        -------
        DataFrame
            The columns of `warmcurve export efforts`, as `ResponseModel.fit` takes them.

        Raises
        ------
        StoreError
            The file cannot be read now, or there is no such measure.
        """
        return export_rows(self.store, "efforts", measure)

    def sessions(self, measure: str | None = None) -> pd.DataFrame:
        """Give all sessions, newest first, with counts of efforts and the facts that were given.

        Parameters
        ----------
        measure : str, optional
            A code; None takes all measures.

        Returns
        -------
        DataFrame
            `SESSION_COLUMNS`: a session's facts as in an efforts file, `efforts` and
            `excluded_efforts` as counts, the `largest_volume`, and the lowest and highest usable
            value.

        Raises
        ------
        StoreError
            The file cannot be read now.
        """
        return sessions(self.store, measure=measure)[SESSION_COLUMNS]

    def responses(self, measure: str | None = None) -> pd.DataFrame:
        """Give what the newest fits say about athletes, a row for each athlete and measure.

        Parameters
        ----------
        measure : str, optional
            A code; None takes all measures.

        Returns
        -------
        DataFrame
            The columns of `warmcurve export responses`; see `ResponseModel.to_frame`.

        Raises
        ------
        StoreError
            The file cannot be read now, or there is no such measure.
        """
        return export_rows(self.store, "responses", measure)

    def curves(self, measure: str | None = None) -> pd.DataFrame:
        """Give the curves of the newest fits, a row for each athlete, measure and volume.

        Parameters
        ----------
        measure : str, optional
            A code; None takes all measures.

        Returns
        -------
        DataFrame
            The columns of `warmcurve export curves`; see `ResponseModel.curves`.

        Raises
        ------
        StoreError
            The file cannot be read now, or there is no such measure.
        """
        return export_rows(self.store, "curves", measure)

    def plans(self, measure: str | None = None) -> pd.DataFrame:
        """Give the lengths that were set, the newest choice for each day and athlete.

        Parameters
        ----------
        measure : str, optional
            A code; None takes all measures.

        Returns
        -------
        DataFrame
            `PLAN_COLUMNS`: what the team's standard was, what was advised, what was chosen and what
            was done, as volumes, and the `outcome` in the measure's unit. Reasons stay in the
            store: they may say something about somebody's health.

        Raises
        ------
        StoreError
            The file cannot be read now.
        """
        return all_plans(self.store, measure)[PLAN_COLUMNS]


def open_store(path: Path | str, wait_seconds: float = 15.0) -> StoreFrames:
    """Open a store to read it.

    Parameters
    ----------
    path : Path or str
        The file.
    wait_seconds : float
        How long to wait for a dashboard or a command that has the file open.

    Returns
    -------
    StoreFrames

    Raises
    ------
    StoreError
        There is no store, or it cannot be read by this version or at this moment.

    Notes
    -----
    Units: seconds.
    Missing values: none.
    Source: none.
    """
    store = Store(path, wait_seconds)
    store.revision()
    return StoreFrames(store)
