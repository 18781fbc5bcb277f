"""When athletes have games and tests, to keep the two out of each other's way."""

from __future__ import annotations

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

__all__ = ["athlete_games", "athlete_tests"]


def athlete_games(store: Store) -> pd.DataFrame:
    """List games by athlete: `athlete`, `starts_at`.

    A game counts for an athlete if it was planned for them or for somebody in the same squad, or
    if one of these was measured in it. Athletes without a squad count as one squad.
    """
    with store.reading() as cursor:
        return fetch(cursor, "SELECT * FROM athlete_game ORDER BY athlete, starts_at")


def athlete_tests(store: Store) -> pd.DataFrame:
    """List tests of maximal efforts by athlete and day: `athlete`, `day`, `measure`, `kind`."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT DISTINCT athlete, started_at::DATE AS day, measure, kind FROM session "
            "WHERE kind = 'fade' OR context = 'test' ORDER BY ALL",
        )
