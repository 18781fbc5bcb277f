from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from db import migrations
from db.connection import current_revision
from db.errors import BadInput, StoreDamaged, StoreError, StoreTooNew
from db.frames import fetch_number
from db.opening import translated
from db.store import Store

COPY_NAME = "warmcurve.duckdb"
MANIFEST_NAME = "manifest.json"


@dataclass(frozen=True)
class BackupReport:
    """A backup that was written and read back.

    Attributes
    ----------
    folder : Path
        Its own folder, named by the time; this is what `restore` takes.
    made_at : datetime
        When.
    schema_version, revision : int
        Of the store.
    rows : dict of str to int
        Rows of each table.
    size_bytes : int
        Size of the copy.
    sha256 : str
        SHA-256 of the copy, in hexadecimal.
    """

    folder: Path
    made_at: datetime
    schema_version: int
    revision: int
    rows: dict[str, int]
    size_bytes: int
    sha256: str


def backup(store: Store, folder: Path | str) -> BackupReport:
    """Write a whole copy of the store into a new dated folder, and read it back.

    Other units of work of this process wait meanwhile.

    Raises
    ------
    StoreError
        If the copy cannot be written, or is not what the store is; it is then removed.
    """
    made_at = datetime.now(UTC)
    target = Path(folder).expanduser() / f"warmcurve-{made_at:%Y%m%dT%H%M%S.%fZ}"
    try:
        target.mkdir(parents=True, mode=0o700)
        report = _copied(store, target, made_at)
        (target / MANIFEST_NAME).write_text(_manifest(report), encoding="utf-8")
        _verify(target / COPY_NAME, report)
    except BaseException as error:
        shutil.rmtree(target, ignore_errors=True)
        if isinstance(error, OSError):
            raise StoreError(
                f"The backup could not be written to {folder}: {error.strerror}. Name another "
                "folder."
            ) from error
        raise
    return report


def restore(folder: Path | str, path: Path | str) -> BackupReport:
    """Copy a backup to a new store file, if it is what it was when it was made.

    Raises
    ------
    BadInput
        If there is no backup in the folder, or a file at the path already.
    StoreDamaged, StoreTooNew
        If the backup has changed since, or this program is too old for it.
    """
    folder, path = Path(folder).expanduser(), Path(path).expanduser()
    report = _read_manifest(folder)
    for taken in (path, Path(f"{path}.wal")):
        if taken.exists():
            raise BadInput(
                f"There is a file {taken} already, and a restore never overwrites one. Move it "
                "away, or name another file."
            )
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f".{path.name}.part")
    try:
        _verify(folder / COPY_NAME, report)
        shutil.copyfile(folder / COPY_NAME, part)
        part.chmod(0o600)
        os.replace(part, path)
    except OSError as error:
        raise StoreError(
            f"The backup could not be copied to {path}: {error.strerror}. Name another file."
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return report


def _copied(store: Store, target: Path, made_at: datetime) -> BackupReport:
    copy = target / COPY_NAME
    with store.alone() as root:
        rows, revision = _row_counts(root), current_revision(root)
        version = migrations.version(root, store.path)
        migrations.copy_store(root, copy)
    return BackupReport(
        target, made_at, version, revision, rows, copy.stat().st_size, _sha256(copy)
    )


def _row_counts(root: duckdb.DuckDBPyConnection) -> dict[str, int]:
    tables = root.execute(
        "SELECT table_name FROM duckdb_tables() WHERE database_name = current_database() "
        "ORDER BY table_name"
    ).fetchall()
    return {name: fetch_number(root, f'SELECT count(*) FROM "{name}"') for (name,) in tables}


def _manifest(report: BackupReport) -> str:
    facts = asdict(report) | {"made_at": report.made_at.isoformat()}
    del facts["folder"]
    return json.dumps(facts, indent=2) + "\n"


def _read_manifest(folder: Path) -> BackupReport:
    file = folder / MANIFEST_NAME
    if not file.exists():
        inside = sorted(found.parent.name for found in folder.glob(f"*/{MANIFEST_NAME}"))
        hint = f"It holds the backups {', '.join(inside)}: name one of them." if inside else ""
        raise BadInput(
            f"There is no backup in {folder}: {MANIFEST_NAME} is missing. {hint}".strip()
        )
    try:
        facts = json.loads(file.read_text(encoding="utf-8"))
        made_at = datetime.fromisoformat(facts.pop("made_at"))
        return BackupReport(folder=folder, made_at=made_at, **facts)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise StoreDamaged(
            f"The file {file} is not the manifest of a backup. Take another backup."
        ) from error


def _verify(copy: Path, report: BackupReport) -> None:
    """Raise unless a copy has the bytes and the rows that the report names."""
    if report.schema_version > migrations.newest():
        raise StoreTooNew(
            f"The backup {report.folder} has schema {report.schema_version} and this program "
            f"knows schemas up to {migrations.newest()}. Update the program."
        )
    if not copy.exists() or _sha256(copy) != report.sha256:
        raise StoreDamaged(
            f"The backup {report.folder} is not as it was made: {COPY_NAME} is missing or has "
            "changed. Take another backup."
        )
    with translated(copy), duckdb.connect(copy, read_only=True) as root:
        if _row_counts(root) != report.rows:
            raise StoreDamaged(
                f"The backup {report.folder} does not hold the rows that its manifest names. "
                "Take another backup."
            )


def _sha256(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
