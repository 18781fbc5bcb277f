"""What upgrading a store to this program's schema would do, before anything is done."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from db.file import migrations
from db.file.opening import reached, too_new
from db.file.store import Store

__all__ = ["Step", "Upgrade", "upgrade_of"]

COMMENT = re.compile(r"\A(?:--[^\n]*\n)+")


@dataclass(frozen=True)
class Step:
    """One change of schema: its number, and what it is for."""

    number: int
    what_for: str


@dataclass(frozen=True)
class Upgrade:
    """What an upgrade would do to a store.

    Attributes
    ----------
    path : Path
    schema, newest : int
        What the store has, and what this program writes.
    steps : tuple of Step
        In order; empty if there is nothing to do.
    store_bytes, free_bytes : int
        Size of the file, which is about what the copy takes, and free space where it is written.
    """

    path: Path
    schema: int
    newest: int
    steps: tuple[Step, ...]
    store_bytes: int
    free_bytes: int

    @property
    def has_room(self) -> bool:
        """Whether the copy fits, with as much room again for the changes."""
        return self.free_bytes > 2 * self.store_bytes


def upgrade_of(store: Store) -> Upgrade:
    """Return what the first use by this program would do to a store, without changing it.

    Raises
    ------
    StoreMissing
        If there is none.
    StoreTooNew
        If this program is too old for it.
    StoreError
        If it cannot be read now.
    """
    path, schema, newest = store.path, store.schema(), migrations.newest()
    if schema > newest:
        raise too_new(path, schema, newest)
    files = migrations.schema_files()[schema:]
    with reached(path):
        size, free = path.stat().st_size, shutil.disk_usage(path.parent).free
    steps = tuple(Step(schema + 1 + n, _what_for(file)) for n, file in enumerate(files))
    return Upgrade(path, schema, newest, steps, size, free)


def _what_for(file: Path) -> str:
    """Return the comment at the head of a schema file, or else its name in words."""
    said = COMMENT.match(file.read_text(encoding="utf-8"))
    if said is None:
        return f"{file.stem.partition('_')[2].replace('_', ' ').capitalize()}."
    return " ".join(line.removeprefix("--").strip() for line in said[0].splitlines())
