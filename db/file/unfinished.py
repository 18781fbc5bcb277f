"""Folders in which a file is written before it gets its name, and those that a kill left behind.

Whoever writes in one holds a lock on it. The system lets go of the lock when the process ends,
however it ends, so that what is not locked was left behind.
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
    """Yield a new folder, for its owner only, in which to write; it is gone afterwards.

    What earlier processes left behind in the same place goes first.

    Parameters
    ----------
    folder : Path
        Where the finished file will be, as it is renamed out of the new folder.

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
        shutil.rmtree(part, ignore_errors=True)  # what stays is found and named later
        if lock is not None:
            os.close(lock)


def private_file(path: Path) -> Path:
    """Make an empty file that only its owner can read, to be written by somebody else's code."""
    path.touch(mode=0o600, exist_ok=False)
    return path


def remove(path: Path) -> None:
    """Remove a file or a folder: at once from sight, so that half of it never looks whole.

    Raises
    ------
    OSError
        If it cannot be removed.
    """
    with unfinished(path.parent) as part:
        path.rename(part / path.name)


def parts_in(folder: Path) -> list[Path]:
    """List the folders for writing in a place, in use or left behind."""
    try:
        with os.scandir(folder) as entries:
            return sorted(
                Path(entry.path)
                for entry in entries
                if _FOLDER.fullmatch(entry.name) and entry.is_dir(follow_symlinks=False)
            )
    except OSError:  # what this account may not look into, or is not there
        return []


def abandoned(folder: Path) -> list[Path]:
    """List what was left behind in a folder; what somebody still writes is not among it."""
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
    """Remove what was left behind in a folder, as far as it can be and is the program's own."""
    for part in parts_in(folder):
        with suppress(OSError):  # `abandoned` still lists it
            lock = _taken(part, os.O_RDWR | os.O_CREAT)
            if lock is not None:
                if all(_INSIDE.fullmatch(name) for name in os.listdir(part)):
                    shutil.rmtree(part)
                os.close(lock)


def _locked_folder(folder: Path) -> tuple[Path, int | None]:
    """Make a folder and lock it, before somebody who cleans up can take it for an old one."""
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
        except OSError:  # a file system without locks: nobody can take it for an old one there
            os.close(lock)
            return part, None
        if os.fstat(lock).st_nlink:
            return part, lock
        os.close(lock)


def _taken(part: Path, flags: int) -> int | None:
    """Lock a folder if nobody has it locked, and give what lets go of it when closed."""
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
