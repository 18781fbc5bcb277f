"""Copies that the store knows of, and those that a killed process left behind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from dashboard.club.scheduled_backups import schedule_of
from db.errors import StoreError
from db.file.copies import (
    finished_copies,
    folders_out_of_reach,
    leftovers,
    remember_folder,
    remove_leftovers,
    unfinished_copies,
)
from db.file.store import Store


@dataclass(frozen=True)
class KnownCopies:
    """Where the store's rows are besides the store itself, as far as it knows.

    Attributes
    ----------
    finished, unfinished : tuple of Path
        Backups and copies from before a change of schema; copies that are being written or were
        left behind.
    out_of_reach : tuple of Path
        Folders with backups that are not there now, such as those on a removable disk.
    """

    finished: tuple[Path, ...]
    unfinished: tuple[Path, ...]
    out_of_reach: tuple[Path, ...]


def known_copies(store: Store) -> KnownCopies:
    """Return the copies of a store in its own folder and in its backup folders."""
    _remember_schedule(store)
    return KnownCopies(
        tuple(finished_copies(store)),
        tuple(unfinished_copies(store)),
        tuple(folders_out_of_reach(store)),
    )


def clear_leftovers(store: Store, say: Callable[[str], None]) -> None:
    """Remove unfinished copies that a killed process left, and say which could not be removed."""
    try:
        _remember_schedule(store)
        remove_leftovers(store)
        for path in leftovers(store):
            say(
                f"{path} is left over from a copy or a change that was stopped, and could not be "
                "removed. It holds athletes' data: remove it by hand."
            )
    except StoreError as error:
        say(error.message)


def _remember_schedule(store: Store) -> None:
    """Note the folder of the schedule in the store, as an earlier version may not have done so."""
    if schedule := schedule_of(store):
        remember_folder(store, Path(schedule.folder))
