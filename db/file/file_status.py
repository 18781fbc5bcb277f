"""Which file a path leads to, and whether it was written since."""

from __future__ import annotations

import os
from pathlib import Path

Stamp = tuple[tuple[int, int, int] | None, tuple[int, int, int] | None]
"""Of a store file and of the log beside it."""


def place_of(path: Path) -> tuple[int, int] | None:
    """Say which file is there: its device and number on it; None where there is none."""
    status = _status(path)
    return None if status is None else (status.st_dev, status.st_ino)


def stamp_of(path: Path) -> tuple[int, int, int] | None:
    """Give what changes when a file is written: its number, when, its size; None without one."""
    status = _status(path)
    return None if status is None else (status.st_ino, status.st_mtime_ns, status.st_size)


def _status(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except FileNotFoundError:
        return None
