"""The demo squad's files with their dates moved, so that the season has just ended."""

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
    """The demo's dates as seen on some day.

    They move by whole weeks, so that weekdays stay the same. The last game was on the Saturday
    before that day; the next one is a week later, on that day at the earliest.

    Attributes
    ----------
    today : date
    """

    today: date

    @property
    def moved_by(self) -> timedelta:
        """How far the dates are moved."""
        yesterday = self.today - timedelta(days=1)
        return (yesterday - GAME_DAYS[-1]) // WEEK * WEEK

    @property
    def coming_game(self) -> date:
        """The next Saturday, or today if it is one."""
        return COMING_GAME + self.moved_by

    @property
    def lifting_day(self) -> date:
        """The next Tuesday, tomorrow at the earliest: not close before a game."""
        return self.today + timedelta(days=(TUESDAY - self.today.weekday() - 1) % 7 + 1)

    def rows_of(self, name: str) -> pd.DataFrame:
        """Return one of the demo's files as text, with its dates moved."""
        with as_file(files("demo_team") / name) as path:
            frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        for column in frame.columns.intersection(DAY_COLUMNS):
            frame[column] = frame[column].map(self._moved)
        return frame

    def written(self, name: str) -> bytes:
        """Return the content of a file, with its dates moved."""
        held = BytesIO()
        self.rows_of(name).to_csv(held, index=False, lineterminator="\n")
        return held.getvalue()

    def _moved(self, written: str) -> str:
        """Move the date that a text begins with; a date that does not exist stays as it is."""
        try:
            day = date.fromisoformat(written[:10])
        except ValueError:
            return written
        return f"{day + self.moved_by}{written[10:]}"
