"""What other processes do with a store that a test uses too."""

from __future__ import annotations

import os
from pathlib import Path
from signal import SIGKILL

from db.file.settings import set_setting
from db.file.store import Store


def write(path: Path, name: str, many: int) -> None:
    """Set that many settings, each in its own write."""
    for number in range(many):
        set_setting(Store(path, 60), f"{name}_{number}", "1", "other")


def write_and_die_in_the_next(path: Path) -> None:
    with Store(path).reading():
        set_setting(Store(path), "kept", "1" * 5000, "other")
        with Store(path).writing("other", "two") as cursor:
            cursor.execute("INSERT INTO setting VALUES ('lost', '1')")
            os.kill(os.getpid(), SIGKILL)
