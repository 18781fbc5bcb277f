"""A folder that is watched: what lies in it, what is complete, where it goes, and its report.

Nothing is lost or doubled by a kill at any moment: a file is moved last, after its rows are stored
and its report is written, and rows that are stored already are known when it is read again.
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
"""What programs that copy and fetch call a file that is not whole yet."""


@dataclass(frozen=True)
class Stamp:
    """What tells that a file was written to: its size, and when it was written last."""

    size: int
    written_ns: int


@dataclass(frozen=True)
class Handled:
    """A file that was handled: its name, when, and what its report says."""

    name: str
    at: datetime
    report: str


def prepare(folder: Path) -> None:
    """Make the folder and those in it.

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
    """Return the files that lie in the folder to be imported, by name.

    Hidden files, links, and those that are named as unfinished are left alone.
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
            continue  # taken away meanwhile
    return found


def stamp_of(path: Path) -> Stamp:
    """Return the stamp of a file that is there."""
    facts = path.stat()
    return Stamp(facts.st_size, facts.st_mtime_ns)


def move(path: Path, stamp: Stamp, to: str, report: str) -> Path | None:
    """Move a file to one of the folders beside it, its report first, and return where it is.

    A file of the same name that is there already stays; the new one gets a number. None where the
    file turns out to be another than the one with the stamp: it is left in the inbox.
    """
    folder = path.parent / to
    place = _free(folder, path)
    written = folder / f".{place.name}{REPORT}"
    written.write_text(report, encoding="utf-8")
    os.replace(written, folder / f"{place.name}{REPORT}")
    os.replace(path, place)
    if stamp_of(place) != stamp:  # another came in its place at the last moment
        os.replace(place, path)
        (folder / f"{place.name}{REPORT}").unlink()
        return None
    return place


def handled(folder: Path, where: str, most: int) -> list[Handled]:
    """Return the files that were moved to one of the folders, the newest first."""
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
    """Return a place for a file in a folder: its own name, or that with a number."""
    place, number = folder / path.name, 2
    while place.exists():
        place = folder / f"{path.stem}-{number}{path.suffix}"
        number += 1
    return place
