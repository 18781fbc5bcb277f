"""Copies of a store: where they are, which are finished, and what killed processes left behind."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime
from glob import escape
from pathlib import Path

from db.errors import StoreError
from db.file.store import Store
from db.file.unfinished import abandoned, parts_in, remove, remove_abandoned

ENCRYPTED_ENDING = ".tar.age"
ENDINGS = re.compile(r"(\.tar\.age|\.encrypted)$")
"""How the names of encrypted backups end, including those of the first versions."""
STAMP = "warmcurve-%Y%m%dT%H%M%S.%fZ"
FOLDER_KEY = "backup folder "
"""Each folder that was backed up to has a setting, whose key is this and then the path."""
_SPILLED = re.compile(r"duckdb_temp_\d+_.*")


def remember_folder(store: Store, folder: Path) -> None:
    """Note in the store that a folder gets backups, before the first one is begun."""
    if folder not in backup_folders(store):
        with store.noting() as cursor:
            cursor.execute(
                "INSERT INTO setting (key, value) VALUES (?, '') ON CONFLICT DO NOTHING",
                [f"{FOLDER_KEY}{folder}"],
            )


def backup_folders(store: Store) -> list[Path]:
    """List the folders that the store was backed up to."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT key FROM setting WHERE starts_with(key, ?) ORDER BY key", [FOLDER_KEY]
        ).fetchall()
    return [Path(key.removeprefix(FOLDER_KEY)) for (key,) in rows]


def folders_out_of_reach(store: Store) -> list[Path]:
    """List the folders that the store was backed up to and that are not there now."""
    return [folder for folder in backup_folders(store) if not folder.is_dir()]


def backups_in(folder: Path | str) -> list[tuple[datetime, Path]]:
    """List the finished backups in a folder with their times, newest first."""
    found = []
    for path in Path(folder).expanduser().glob("warmcurve-*"):
        try:
            made_at = datetime.strptime(ENDINGS.sub("", path.name), STAMP)
        except ValueError:
            continue
        found.append((made_at.replace(tzinfo=UTC), path))
    return sorted(found, reverse=True)


def keep_newest(folder: Path | str, keep: int) -> None:
    """Remove all but the newest backups of a folder.

    Raises
    ------
    StoreError
        If one cannot be removed.
    """
    for _, path in backups_in(folder)[keep:]:
        try:
            remove(path)
        except OSError as error:
            raise StoreError(
                f"The old backup {path} could not be removed: {error.strerror}. Remove it by hand."
            ) from error


def finished_copies(store: Store) -> list[Path]:
    """List the known copies: those made before changes of schema, then backups, newest first."""
    return [
        *copies_before_upgrades(store),
        *(path for place in _places(store) for _, path in backups_in(place)),
    ]


def copies_before_upgrades(store: Store) -> list[Path]:
    """List the copies made of a store before its schema changed."""
    stem, ending = escape(store.path.stem), escape(store.path.suffix)
    return sorted(store.path.parent.glob(f"{stem}.schema-*{ending}"))


def unfinished_copies(store: Store) -> list[Path]:
    """List the copies that are being written, or were left behind and could not be removed."""
    parts = [part for place in _places(store) for part in parts_in(place)]
    return [*parts, *_parts_beside(store), *_spilled(store)]


def leftovers(store: Store) -> list[Path]:
    """List what killed processes left behind of the store, without what is still being written."""
    parts = [part for place in _places(store) for part in abandoned(place)]
    with store.reading():  # meanwhile no other process has the store and writes there
        spilled = [path for path in _spilled(store) if f"_{os.getpid()}_" not in path.name]
    return [*parts, *_parts_beside(store), *spilled]


def remove_leftovers(store: Store) -> None:
    """Remove what killed processes left behind of the store; `leftovers` lists what remains.

    Raises
    ------
    StoreError
        If the store is in use for too long.
    """
    for place in _places(store):
        remove_abandoned(place)
    for path in _parts_beside(store):
        with suppress(OSError):
            path.unlink()
    if _spilled(store):
        with store.alone(), suppress(OSError):
            for path in _spilled(store):
                path.unlink()
            path.parent.rmdir()


def _places(store: Store) -> list[Path]:
    """List the store's own folder and those of its backups, each once."""
    return list(dict.fromkeys([store.path.parent, *backup_folders(store)]))


def _parts_beside(store: Store) -> Iterator[Path]:
    """Yield the unfinished files of earlier versions, which wrote them beside the store."""
    name, stem = escape(store.path.name), escape(store.path.stem)
    ending = escape(store.path.suffix)
    for part in (f".{name}.rewritten", f".{stem}.schema-*{ending}.part"):
        yield from store.path.parent.glob(part)
        yield from store.path.parent.glob(f"{part}.wal")


def _spilled(store: Store) -> list[Path]:
    """List the files that DuckDB wrote when memory ran out, and left behind when killed."""
    folder = Path(f"{store.path}.tmp")
    return [path for path in folder.glob("*") if _SPILLED.fullmatch(path.name)]
