from __future__ import annotations

import json
import os
import shutil
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import duckdb

from db.backup.data_package import (
    fill_from_package,
    row_counts,
    sha256_of,
    verify_package,
    write_package,
)
from db.backup.encryption import check_passphrase, decrypt, encrypt
from db.backup.files import MANIFEST_NAME, read_manifest
from db.errors import BadInput, StoreDamaged, StoreError, StoreTooNew
from db.file import migrations
from db.file.connection import current_revision
from db.file.copies import ENCRYPTED_ENDING, STAMP, remember_folder, remove_leftovers
from db.file.opening import SETTINGS, Settings, first_line, translated
from db.file.store import Store
from db.file.unfinished import private_file, unfinished

COPY_NAME = "warmcurve.duckdb"
_READING: Settings = {**SETTINGS, "enable_external_access": "false"}


@dataclass(frozen=True)
class BackupReport:
    """A backup that was written and read back.

    Attributes
    ----------
    folder : Path
        Its own folder, or encrypted file, named by the time; this is what `restore` takes.
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


def backup(store: Store, folder: Path | str, passphrase: str | None = None) -> BackupReport:
    """Write a whole copy of the store into a new dated folder, and read it back.

    The folder holds the store's file, and the same rows as Parquet files with an open
    description, from which any program can read them. Other units of work of this process
    wait while the file is copied. A backup gets its name only once it is whole.

    Parameters
    ----------
    store : Store
        What to copy.
    folder : Path or str
        Where the dated folder goes; made if it is not there.
    passphrase : str, optional
        Makes one encrypted file instead of a folder.

    Raises
    ------
    StoreError
        If the copy cannot be written, or differs from the store; it is then removed.
    """
    place, made_at = Path(folder).expanduser().resolve(), datetime.now(UTC)
    if passphrase is not None:
        check_passphrase(passphrase)
    with _written_to(place):
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
    remember_folder(store, place)
    remove_leftovers(store)
    # Unencrypted parts of an encrypted backup never leave the store's own folder.
    beside = place if passphrase is None else store.path.parent
    with _written_to(beside), unfinished(beside) as part:
        inside = part / f"{made_at:{STAMP}}"
        inside.mkdir(mode=0o700)
        report = _copied(store, inside, made_at)
        _verify(inside, report)
        verify_package(inside)
        if passphrase is None:
            return replace(report, folder=inside.rename(place / inside.name))
        return replace(report, folder=_sealed(inside, place, passphrase))


def restore(folder: Path | str, path: Path | str, passphrase: str | None = None) -> BackupReport:
    """Make a new store file from a backup that has not changed since it was made.

    This uses the copy of the store's file. If that is missing, has changed, or was written by
    a version of DuckDB that this one cannot read, it uses the Parquet files beside it.

    Parameters
    ----------
    folder : Path or str
        A dated folder, or an encrypted file.
    path : Path or str
        The store to make; no file may be there yet.
    passphrase : str, optional
        Of an encrypted file.

    Raises
    ------
    BadInput
        If there is no backup in the folder, there is a file at the path already, or the
        passphrase is missing or wrong.
    StoreDamaged, StoreTooNew
        If the backup has changed since, or this program is too old for it.
    """
    folder, path = Path(folder).expanduser(), Path(path).expanduser()
    for taken in (path, Path(f"{path}.wal")):
        if taken.exists():
            raise BadInput(
                f"There is a file {taken} already, and a restore never overwrites one. Move it "
                "away, or name another file."
            )
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with unfinished(path.parent) as part:
            source = _opened(folder, part, passphrase) if folder.is_file() else folder
            report = _read_manifest(source)
            os.replace(_rebuilt(source, report, part / "store.duckdb"), path)
    except OSError as error:
        raise StoreError(
            f"The backup could not be copied to {path}: {error.strerror}. Name another file."
        ) from error
    return replace(report, folder=folder)


@contextmanager
def _written_to(folder: Path) -> Iterator[None]:
    try:
        yield
    except (OSError, duckdb.IOException) as error:
        why = error.strerror if isinstance(error, OSError) else str(error).splitlines()[0]
        raise StoreError(
            f"The backup could not be written to {folder}: {why}. Nothing of it was kept, and "
            "the store is as it was. Make room there, or name another folder."
        ) from error


def _copied(store: Store, target: Path, made_at: datetime) -> BackupReport:
    copy = target / COPY_NAME
    with store.alone() as root, _written_to(target.parent.parent):
        rows, revision = row_counts(root), current_revision(root)
        version = migrations.version(root, store.path)
        migrations.copy_store(root, copy)
    write_package(copy, target, made_at)
    size = copy.stat().st_size
    report = BackupReport(target, made_at, version, revision, rows, size, sha256_of(copy))
    private_file(target / MANIFEST_NAME).write_text(_manifest(report), encoding="utf-8")
    return report


def _sealed(inside: Path, place: Path, passphrase: str) -> Path:
    """Pack and encrypt a folder in memory, and read it back before it gets its name."""
    packed = BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as tar:
        tar.add(inside, arcname=inside.name)
    sealed = place / f"{inside.name}{ENCRYPTED_ENDING}"
    with _written_to(place), unfinished(place) as part:
        written = private_file(part / sealed.name)
        written.write_bytes(encrypt(packed.getvalue(), passphrase))
        if decrypt(written, passphrase) != packed.getbuffer():
            raise StoreDamaged(f"The encrypted backup {sealed} does not read back. Take another.")
        return written.rename(sealed)


def _opened(sealed: Path, part: Path, passphrase: str | None) -> Path:
    if passphrase is None:
        raise BadInput(f"The backup {sealed} is encrypted. Give its passphrase.")
    packed = BytesIO(decrypt(sealed, passphrase))
    try:
        with tarfile.open(fileobj=packed) as tar:
            tar.extractall(part / "unpacked", filter="data")
        (folder,) = (part / "unpacked").iterdir()
    except (tarfile.TarError, ValueError) as error:
        raise StoreDamaged(f"The file {sealed} holds no backup. Take another one.") from error
    return folder


def _rebuilt(folder: Path, report: BackupReport, target: Path) -> Path:
    try:
        _verify(folder, report)
        shutil.copyfile(folder / COPY_NAME, private_file(target))
    except StoreDamaged as damage:
        _rebuilt_from_rows(folder, report, target, damage)
    except StoreTooNew as newer:
        if report.schema_version > migrations.newest():
            raise
        _rebuilt_from_rows(folder, report, target, newer)
    return target


def _rebuilt_from_rows(folder: Path, report: BackupReport, target: Path, cause: StoreError) -> None:
    try:
        verify_package(folder)
    except StoreDamaged:
        raise cause from None
    fill_from_package(folder, target)
    target.chmod(0o600)
    _verify_rows(target, report)


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
    return BackupReport(folder=folder, **read_manifest(folder).model_dump())


def _verify(folder: Path, report: BackupReport) -> None:
    """Raise unless the copy in a folder has the bytes and the rows that the report names."""
    if report.schema_version > migrations.newest():
        raise StoreTooNew(
            f"The backup {report.folder} has schema {report.schema_version} and this program "
            f"knows schemas up to {migrations.newest()}. Update the program."
        )
    copy = folder / COPY_NAME
    if not copy.is_file() or sha256_of(copy) != report.sha256:
        raise StoreDamaged(
            f"The backup {report.folder} is not as it was made: {COPY_NAME} is missing or has "
            "changed. Take another backup."
        )
    _verify_rows(copy, report)


def _verify_rows(copy: Path, report: BackupReport) -> None:
    try:
        with translated(copy), duckdb.connect(copy, read_only=True, config=_READING) as root:
            counted, version = row_counts(root), migrations.version(root, copy)
    except duckdb.Error as error:
        if "database file with version" in str(error):
            raise StoreTooNew(
                f"The copy in the backup {report.folder} was written by another version of "
                "DuckDB than this program has. Update the program."
            ) from error
        raise StoreDamaged(
            f"The copy in the backup {report.folder} does not hold a store: "
            f"{first_line(error)} Take another backup."
        ) from error
    if counted != report.rows or version != report.schema_version:
        raise StoreDamaged(
            f"The backup {report.folder} does not hold the rows that its manifest names. "
            "Take another backup."
        )
