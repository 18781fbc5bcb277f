"""When athletes have games and tests, so that neither comes in the way of the other."""

from __future__ import annotations

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

__all__ = ["athlete_games", "athlete_tests"]


def athlete_games(store: Store) -> pd.DataFrame:
    """List games by athlete: `athlete`, `starts_at`.

    A game is one that was planned or measured in, by the athlete or by somebody of the same
    squad; who is in no squad counts as one squad together.
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
