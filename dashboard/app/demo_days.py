"""The demo squad's files with their days moved, so that the season has just ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from importlib.resources import as_file, files
from io import BytesIO

import pandas as pd

from demo_team.days import COMING_GAME, GAME_DAYS

WEEK = timedelta(days=7)
DAY_COLUMNS = ["started_at", "day", "since"]
TUESDAY = 1


@dataclass(frozen=True)
class DemoDays:
    """The demo's days as they are seen on some day.

    They are moved by whole weeks, so that weekdays stay and the last game was on the Saturday
    before; the next one is then a week after it, on that day at the earliest.

    Attributes
    ----------
    today : date
    """

    today: date

    @property
    def moved_by(self) -> timedelta:
        """How far."""
        yesterday = self.today - timedelta(days=1)
        return (yesterday - GAME_DAYS[-1]) // WEEK * WEEK

    @property
    def coming_game(self) -> date:
        """The Saturday to come, or today."""
        return COMING_GAME + self.moved_by

    @property
    def lifting_day(self) -> date:
        """The Tuesday to come, tomorrow at the earliest: not close before a game."""
        return self.today + timedelta(days=(TUESDAY - self.today.weekday() - 1) % 7 + 1)

    def rows_of(self, name: str) -> pd.DataFrame:
        """Return one of the demo's files as text, on the moved days."""
        with as_file(files("demo_team") / name) as path:
            frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        for column in frame.columns.intersection(DAY_COLUMNS):
            frame[column] = frame[column].map(self._moved)
        return frame

    def written(self, name: str) -> bytes:
        """Return what is in a file, on the moved days."""
        held = BytesIO()
        self.rows_of(name).to_csv(held, index=False, lineterminator="\n")
        return held.getvalue()

    def _moved(self, written: str) -> str:
        """Move a day with what follows it; one that does not exist stays a mistake."""
        try:
            day = date.fromisoformat(written[:10])
        except ValueError:
            return written
        return f"{day + self.moved_by}{written[10:]}"
