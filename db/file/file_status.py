"""Which file a path leads to, and whether it has been written to since."""

from __future__ import annotations

import os
from pathlib import Path

Stamp = tuple[tuple[int, int, int] | None, tuple[int, int, int] | None]
"""The stamps of a store file and of the log beside it."""


def place_of(path: Path) -> tuple[int, int] | None:
    """Return the device and inode of the file that is there; None without one."""
    status = _status(path)
    return None if status is None else (status.st_dev, status.st_ino)


def stamp_of(path: Path) -> tuple[int, int, int] | None:
    """Return what changes when a file is written: inode, time and size; None without a file."""
    status = _status(path)
    return None if status is None else (status.st_ino, status.st_mtime_ns, status.st_size)


def _status(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except FileNotFoundError:
        return None
