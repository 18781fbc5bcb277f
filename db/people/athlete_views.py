"""Who opened pages about one athlete."""

from __future__ import annotations

from datetime import date

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

__all__ = ["athlete_views", "note_view"]


def note_view(store: Store, athlete: str, person: str, day: date) -> None:
    """Remember that somebody opened a page about an athlete on a day; once a day is enough."""
    with store.noting() as cursor:
        cursor.execute(
            "INSERT INTO athlete_view (athlete, person, day) "
            "SELECT athlete, ?, ? FROM athlete WHERE athlete = ? ON CONFLICT DO NOTHING",
            [person, day, athlete],
        )


def athlete_views(store: Store, athlete: str) -> pd.DataFrame:
    """Tell who opened pages about an athlete, the latest first.

    Returns
    -------
    DataFrame
        `person` (sign-in name), `days` (on how many), `last_day`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT person, count(*) AS days, max(day) AS last_day FROM athlete_view "
            "WHERE athlete = ? GROUP BY person ORDER BY last_day DESC, person",
            [athlete],
        )
