"""Write a file in a folder of its own before it gets its name, and remove abandoned folders.

A process that writes in such a folder holds a lock on it. The system releases the lock when the
process ends, however it ends. So a folder without a lock was left behind.
"""

from __future__ import annotations

import fcntl
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import mkdtemp

PREFIX = ".warmcurve-part-"
_LOCK = "in-use"
_FOLDER = re.compile(rf"{re.escape(PREFIX)}[a-z0-9_]{{8}}")
_INSIDE = re.compile(
    r"in-use|file|(packed|again)\.tar|unpacked|store\.duckdb(\.wal|\.tmp)?"
    r"|warmcurve-\d{8}T\d{6}\.\d{6}Z(\.tar\.age|\.encrypted)?"
)


@contextmanager
def unfinished(folder: Path) -> Iterator[Path]:
    """Yield a new private folder to write in, and remove it afterwards.

    First, this removes what earlier processes left behind in the same place.

    Parameters
    ----------
    folder : Path
        Where the finished file will be: the caller renames it out of the new folder.

    Raises
    ------
    OSError
        If nothing can be written there.
    """
    remove_abandoned(folder)
    part, lock = _locked_folder(folder)
    try:
        yield part
    finally:
        shutil.rmtree(part, ignore_errors=True)  # `abandoned` lists what stays
        if lock is not None:
            os.close(lock)


def private_file(path: Path) -> Path:
    """Make an empty file that only its owner can read, for other code to write to."""
    path.touch(mode=0o600, exist_ok=False)
    return path


def remove(path: Path) -> None:
    """Remove a file or a folder; it vanishes at once, so half of it never looks whole.

    Raises
    ------
    OSError
        If it cannot be removed.
    """
    with unfinished(path.parent) as part:
        path.rename(part / path.name)


def parts_in(folder: Path) -> list[Path]:
    """List the folders of unfinished files in a place, in use or left behind."""
    try:
        with os.scandir(folder) as entries:
            return sorted(
                Path(entry.path)
                for entry in entries
                if _FOLDER.fullmatch(entry.name) and entry.is_dir(follow_symlinks=False)
            )
    except OSError:  # it is not there, or this account may not look into it
        return []


def abandoned(folder: Path) -> list[Path]:
    """List what was left behind in a folder, without what is still being written."""
    found = []
    for part in parts_in(folder):
        try:
            lock = _taken(part, os.O_RDWR)
        except OSError:  # it has no lock yet, or this account may not look
            found.append(part)
        else:
            if lock is not None:
                os.close(lock)
                found.append(part)
    return found


def remove_abandoned(folder: Path) -> None:
    """Remove what was left behind in a folder, if it is the program's own and can be removed."""
    for part in parts_in(folder):
        with suppress(OSError):  # `abandoned` still lists it
            lock = _taken(part, os.O_RDWR | os.O_CREAT)
            if lock is not None:
                if all(_INSIDE.fullmatch(name) for name in os.listdir(part)):
                    shutil.rmtree(part)
                os.close(lock)


def _locked_folder(folder: Path) -> tuple[Path, int | None]:
    """Make a folder and lock it; start again if a clean-up took it for an old one first."""
    while True:
        part = Path(mkdtemp(prefix=PREFIX, dir=folder))
        try:
            lock = os.open(part / _LOCK, os.O_RDWR | os.O_CREAT, 0o600)
        except FileNotFoundError:
            continue
        except OSError:
            shutil.rmtree(part, ignore_errors=True)
            raise
        try:
            fcntl.flock(lock, fcntl.LOCK_EX)
        except OSError:  # a file system without locks, where no clean-up can take it either
            os.close(lock)
            return part, None
        if os.fstat(lock).st_nlink:
            return part, lock
        os.close(lock)


def _taken(part: Path, flags: int) -> int | None:
    """Lock a folder and return the file descriptor of the lock; None if it is locked already."""
    lock = os.open(part / _LOCK, flags | os.O_NOFOLLOW, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(lock)
        return None
    except OSError:
        os.close(lock)
        raise
    return lock
