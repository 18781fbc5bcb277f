"""Copies of the store that it can name: beside itself, and in the folder of the schedule."""

from __future__ import annotations

from pathlib import Path

from dashboard.scheduled_backups import schedule_of
from db.backup import backups_in
from db.privacy import copies_beside
from db.store import Store


def known_copies(store: Store) -> list[Path]:
    """Return the copies made before a change of schema, then the scheduled backups."""
    schedule = schedule_of(store)
    scheduled = backups_in(schedule.folder) if schedule else []
    return [*copies_beside(store), *(path for _, path in scheduled)]
