"""What the two descriptions in a backup must say, and reading them without trusting them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self, TypeVar

from pydantic import (
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
    model_validator,
)

from db.errors import StoreDamaged

DESCRIPTION_NAME = "datapackage.json"
MANIFEST_NAME = "manifest.json"
FOLDER_NAME = "data"
LARGEST_BYTES = 10_000_000
"""The limit for a description; that of a store with 80 tables has 150,000 bytes."""

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,62}$")]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Count = Annotated[int, Field(ge=0, lt=2**53)]
Number = Annotated[int, Field(ge=1, lt=2**53)]


class Manifest(BaseModel):
    """What `manifest.json` says of the copy of the store; see `db.backup.copying.BackupReport`."""

    model_config = ConfigDict(strict=True, extra="forbid")

    made_at: AwareDatetime
    schema_version: Number
    revision: Count
    rows: dict[Name, Count]
    size_bytes: Count
    sha256: Hash


class Resource(BaseModel):
    """What `datapackage.json` says of the file of one table, as far as a restore needs it."""

    model_config = ConfigDict(strict=True)

    name: Name
    path: str
    hash: Annotated[str, StringConstraints(pattern=r"^sha256:[0-9a-f]{64}$")]
    rows: Count

    @model_validator(mode="after")
    def _has_its_own_file(self) -> Self:
        if self.path != f"{FOLDER_NAME}/{self.name}.parquet":
            raise ValueError("a table has another path than its own")
        return self


class Package(BaseModel):
    """What `datapackage.json` says of the store, as far as a restore needs it."""

    model_config = ConfigDict(strict=True)

    schema_version: Number
    sequences: dict[Name, Number]
    resources: list[Resource]

    @model_validator(mode="after")
    def _names_each_table_once(self) -> Self:
        if len({resource.name for resource in self.resources}) < len(self.resources):
            raise ValueError("a table is there twice")
        return self


_Description = TypeVar("_Description", Manifest, Package)


def read_manifest(folder: Path) -> Manifest:
    """Read the manifest of a backup.

    Raises
    ------
    StoreDamaged
        If it is missing or not as it was made.
    """
    return _read(folder / MANIFEST_NAME, Manifest)


def read_package(folder: Path) -> Package:
    """Read the description of the Parquet files in a backup.

    Raises
    ------
    StoreDamaged
        If it is missing or not as it was made.
    """
    return _read(folder / DESCRIPTION_NAME, Package)


def _read(file: Path, model: type[_Description]) -> _Description:
    try:
        if not file.is_file():
            raise StoreDamaged(f"The file {file} is missing. Take another backup.")
        if file.stat().st_size > LARGEST_BYTES:
            raise StoreDamaged(
                f"The file {file} is too large to describe a backup. Take another backup."
            )
        return model.model_validate_json(file.read_bytes())
    except ValidationError as error:
        place = " ".join(map(str, error.errors(include_url=False, include_input=False)[0]["loc"]))
        where = f": see {place}" if place else ""
        raise StoreDamaged(
            f"The file {file} does not describe a backup{where}. Take another backup."
        ) from error
    except OSError as error:
        raise StoreDamaged(
            f"The file {file} cannot be read: {error.strerror}. Check who may read it, or take "
            "another backup."
        ) from error
