"""Scheduled backups while the store is served."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.core.events import log_event
from dashboard.core.failures import told_of
from dashboard.core.repeating import repeat
from db.backup.encryption import check_passphrase
from db.errors import BadInput
from db.file.copies import backups_in, keep_newest
from db.file.settings import get_setting, set_setting
from db.file.store import Store

SETTING = "backup_schedule"
PASSPHRASE = "WARMCURVE_BACKUP_PASSPHRASE"
LOOK_SECONDS = 60.0
MOST_HOURS = 87_600


@dataclass(frozen=True)
class Schedule:
    """When and where the store is backed up automatically.

    Attributes
    ----------
    folder : str
        Where the backups go.
    every_hours : float
        How long after the last backup there the next one is made.
    keep : int
        How many of the newest ones stay there.
    encrypt : bool
        Whether the backups are encrypted, with the passphrase in the environment.

    Raises
    ------
    BadInput
        If the hours or the number to keep are not allowed.
    """

    folder: str
    every_hours: float
    keep: int
    encrypt: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.every_hours <= MOST_HOURS:
            raise BadInput(
                "A backup every so many hours needs a number of hours above 0 and up to "
                f"{MOST_HOURS:,}, which is ten years."
            )
        if self.keep < 1:
            raise BadInput("At least one backup must be kept. Give --keep a whole number from 1.")


def schedule_of(store: Store) -> Schedule | None:
    """Return the schedule from the settings; None if there is none.

    Raises
    ------
    BadInput
        If the setting cannot be read.
    """
    text = get_setting(store, SETTING, "")
    if not text:
        return None
    from pydantic import TypeAdapter, ValidationError  # slow to load, and needed only here

    try:
        return TypeAdapter(Schedule).validate_json(text)
    except ValidationError as error:
        raise BadInput(
            f"The setting {SETTING} cannot be read. Set the schedule anew: warmcurve backup FOLDER "
            "--every HOURS --keep K."
        ) from error


def set_schedule(store: Store, schedule: Schedule | None, person: str) -> None:
    """Save a schedule in the settings; None ends it."""
    set_setting(store, SETTING, json.dumps(asdict(schedule)) if schedule else "", person)


def schedule_words(store: Store) -> str:
    """Say what the schedule is and when the last backup was made."""
    schedule = schedule_of(store)
    if schedule is None:
        return "No backups are scheduled. Set them: warmcurve backup FOLDER --every HOURS --keep K."
    made = backups_in(schedule.folder)
    last = f"{made[0][0]:%Y-%m-%d %H:%M} UTC" if made else "none yet"
    sealed = ", encrypted" if schedule.encrypt else ""
    return (
        f"Every {schedule.every_hours:g} hours to {schedule.folder}{sealed}, while the store is "
        f"served; the newest {schedule.keep} are kept. Last backup: {last}."
    )


def back_up_if_due(store: Store, now: datetime) -> Path | None:
    """Make a backup if one is due, remove those beyond `keep`, and return the new one.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    schedule = schedule_of(store)
    if schedule is None:
        return None
    made = backups_in(schedule.folder)
    if made and now - made[0][0] < timedelta(hours=schedule.every_hours):
        return None
    passphrase = environment_passphrase() if schedule.encrypt else None
    from db.backup.copying import (
        backup,  # slow to load, and most starts do not need it
    )

    report = backup(store, schedule.folder, passphrase)
    keep_newest(schedule.folder, schedule.keep)
    return report.folder


def backup_age_seconds(store: Store) -> float:
    """Return how long ago the newest scheduled backup was made; NaN if there is none."""
    schedule = schedule_of(store)
    made = backups_in(schedule.folder) if schedule else []
    return (datetime.now(UTC) - made[0][0]).total_seconds() if made else float("nan")


def environment_passphrase() -> str:
    """Return the passphrase that the environment holds, if it can be used.

    Raises
    ------
    BadInput
        If it holds none, or one too short.
    """
    passphrase = os.environ.get(PASSPHRASE, "")
    if not passphrase:
        raise BadInput(
            f"The backups are to be encrypted, and {PASSPHRASE} is not set where this runs. Set "
            "it and start again. No backup was made."
        )
    check_passphrase(passphrase)
    return passphrase


def start_scheduled_backups(
    store: Store, say: Callable[[str], None], look_seconds: float = LOOK_SECONDS
) -> threading.Event:
    """Check regularly whether a backup is due, until the returned event is set.

    If one fails, it says so once, and tries again at every check.
    """
    said = ""

    def look() -> None:
        nonlocal said
        problem = ""
        try:
            if (made := back_up_if_due(store, datetime.now(UTC))) is not None:
                say(f"Backed up to {made}.")
                log_event("backup")
        except Exception as error:
            why = told_of(error, "it", "It is tried again.")
            problem = f"The scheduled backup could not be made. {why}"
        if problem and problem != said:
            say(problem)
        said = problem

    return repeat(look, look_seconds, "scheduled backups")
