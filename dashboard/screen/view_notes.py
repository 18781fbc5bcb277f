"""Note who opened a page about one athlete, so that the athlete can see it."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from pathlib import Path

from dashboard.screen.access import signed_in
from dashboard.screen.web_sessions import running_store
from db.errors import StoreBusy
from db.file.store import Store
from db.people.athlete_views import note_view

__all__ = ["note_view_today"]

WAIT_SECONDS = 0.5
MOST_REMEMBERED = 10_000


def note_view_today(athlete: str) -> None:
    """Note that the person signed in has opened a page about an athlete.

    Nobody waits for a busy store because of this: the page's next run notes it.
    """
    try:
        _note(running_store().path, athlete, signed_in().person, date.today())
    except StoreBusy:
        pass


@lru_cache(maxsize=MOST_REMEMBERED)
def _note(path: Path, athlete: str, person: str, day: date) -> None:
    note_view(Store(path, WAIT_SECONDS), athlete, person, day)
