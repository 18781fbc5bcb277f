"""The watched folder: which files are in it, where they go once handled, and their reports.

Nothing is lost or doubled if the process is killed at any moment. A file is moved last, after its
rows are saved and its report is written. If it is read again, rows already saved are recognised.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from db.errors import BadInput

DONE, ASIDE = "done", "set-aside"
REPORT = ".report.txt"
UNFINISHED = (".part", ".partial", ".tmp", ".crdownload", ".download", ".filepart")
"""Endings that copying and downloading programs give to a file that is not complete yet."""


@dataclass(frozen=True)
class Stamp:
    """What shows that a file was written to: its size and the time of the last write."""

    size: int
    written_ns: int


@dataclass(frozen=True)
class Handled:
    """A file that was handled: its name, when, and what its report says."""

    name: str
    at: datetime
    report: str


def prepare(folder: Path) -> None:
    """Make the folder and its subfolders.

    Raises
    ------
    BadInput
        If it cannot be made or written to.
    """
    try:
        for each in (folder, folder / DONE, folder / ASIDE):
            each.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(
            f"The inbox {folder} cannot be used: {error.strerror}. Name a folder that this "
            "program may write to."
        ) from error
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        raise BadInput(
            f"The inbox {folder} cannot be used: files in it cannot be read and moved. Name a "
            "folder that this program may write to."
        )


def files_in(folder: Path) -> dict[Path, Stamp]:
    """Return the files in the folder that are to be imported, by name.

    Hidden files, links, and files with an ending in `UNFINISHED` are left alone.
    """
    found = {}
    for path in sorted(folder.iterdir()):
        name = path.name.lower()
        if name.startswith((".", "~$")) or name.endswith(UNFINISHED):
            continue
        try:
            if path.is_file() and not path.is_symlink():
                found[path] = stamp_of(path)
        except OSError:
            continue  # removed meanwhile
    return found


def stamp_of(path: Path) -> Stamp:
    """Return the stamp of a file that exists."""
    facts = path.stat()
    return Stamp(facts.st_size, facts.st_mtime_ns)


def move(path: Path, stamp: Stamp, to: str, report: str) -> Path | None:
    """Move a file to one of the subfolders, after writing its report, and return its new path.

    If a file of that name is already there, the new one gets a number. Returns None if the file no
    longer has the stamp: then it stays in the inbox.
    """
    folder = path.parent / to
    place = _free(folder, path)
    written = folder / f".{place.name}{REPORT}"
    written.write_text(report, encoding="utf-8")
    os.replace(written, folder / f"{place.name}{REPORT}")
    os.replace(path, place)
    if stamp_of(place) != stamp:  # another file took its place at the last moment
        os.replace(place, path)
        (folder / f"{place.name}{REPORT}").unlink()
        return None
    return place


def handled(folder: Path, where: str, most: int) -> list[Handled]:
    """Return the files that were moved to one of the subfolders, newest first."""
    reports = [path for path in (folder / where).glob(f"*{REPORT}") if not path.name[0] == "."]
    newest = sorted(reports, key=lambda path: (path.stat().st_mtime_ns, path.name), reverse=True)
    return [
        Handled(
            path.name.removesuffix(REPORT),
            datetime.fromtimestamp(path.stat().st_mtime).astimezone(),
            path.read_text(encoding="utf-8", errors="replace"),
        )
        for path in newest[:most]
    ]


def _free(folder: Path, path: Path) -> Path:
    """Return a free path for a file in a folder: its own name, or that with a number."""
    place, number = folder / path.name, 2
    while place.exists():
        place = folder / f"{path.stem}-{number}{path.suffix}"
        number += 1
    return place
