"""The commands `warmcurve backup` and `warmcurve restore`."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from dashboard.core.terminal import StoreFile, say, store_at, user


def backup(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            help="Where the copy goes, in a dated folder. Without it the schedule is told.",
        ),
    ] = None,
    encrypt: Annotated[
        bool,
        typer.Option(
            "--encrypt",
            help="Make one file that only a passphrase opens: it is asked for, unless "
            "WARMCURVE_BACKUP_PASSPHRASE holds it.",
        ),
    ] = False,
    every: Annotated[
        float | None,
        typer.Option(
            metavar="HOURS", help="Back up by itself from now on, while the store is served."
        ),
    ] = None,
    keep: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER", help="With --every: how many of the newest stay; without it 14."
        ),
    ] = None,
    never: Annotated[bool, typer.Option("--never", help="End the backups by themselves.")] = False,
    db: StoreFile = None,
) -> None:
    """Copy the store while it may be in use, and check the copy.

    Prints where the copy is. With --every it also sets a schedule, which serve follows.
    """
    from dashboard.club.scheduled_backups import (
        Schedule,
        environment_passphrase,
        schedule_words,
        set_schedule,
    )
    from db.backup.copying import backup as copy_store
    from db.file.copies import keep_newest

    store = store_at(db)
    _check_words(folder, every, keep, never)
    if never:
        set_schedule(store, None, user())
    if folder is None:
        say(schedule_words(store))
        return
    if every is None:
        print(copy_store(store, folder, _passphrase(new=True) if encrypt else None).folder)
        return
    passphrase = environment_passphrase() if encrypt else None
    schedule = Schedule(str(folder.expanduser().resolve()), every, keep or 14, encrypt)
    set_schedule(store, schedule, user())
    print(copy_store(store, schedule.folder, passphrase).folder)
    keep_newest(schedule.folder, schedule.keep)
    say(schedule_words(store))


def _check_words(folder: Path | None, every: float | None, keep: int | None, never: bool) -> None:
    """Refuse options that do not go together."""
    from db.errors import BadInput

    if never and (folder or every is not None):
        raise BadInput("--never ends the schedule and takes no folder and no --every.")
    if keep is not None and every is None:
        raise BadInput("--keep goes with --every HOURS: backups that you make yourself all stay.")
    if every is not None and folder is None:
        raise BadInput("Name the folder for the backups: warmcurve backup FOLDER --every HOURS.")


def restore(
    folder: Annotated[
        Path,
        typer.Argument(metavar="BACKUP", help="The folder or encrypted file that backup printed."),
    ],
    db: StoreFile = None,
) -> None:
    """Make a store from a copy; never overwrites one.

    Asks for the passphrase of an encrypted one, unless WARMCURVE_BACKUP_PASSPHRASE holds it.
    """
    from db.backup.copying import restore as restore_store

    path = store_at(db).path
    passphrase = _passphrase(new=False) if folder.expanduser().is_file() else None
    restore_store(folder, path, passphrase)
    print(path)


def _passphrase(new: bool) -> str:
    from dashboard.club.scheduled_backups import PASSPHRASE
    from db.errors import BadInput

    if given := os.environ.get(PASSPHRASE):
        return given
    if not sys.stdin.isatty():
        raise BadInput(f"A passphrase is needed. Set {PASSPHRASE}, or run this in a terminal.")
    if new:
        say("Keep the passphrase where the backups are not: without it nobody can open this one.")
    asked: str = typer.prompt("Passphrase", hide_input=True, confirmation_prompt=new, err=True)
    return asked
