"""An open package of efforts, read back."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
from pydantic import BaseModel, ConfigDict, ValidationError

from db.backup.files import DESCRIPTION_NAME, Resource
from db.errors import BadInput, StoreDamaged

__all__ = ["OpenPackage", "open_package"]


class _Description(BaseModel):
    model_config = ConfigDict(strict=True)

    resources: list[Resource]


@dataclass(frozen=True)
class OpenPackage:
    """Efforts without names, as `warmcurve export package` writes them.

    Attributes
    ----------
    description : Mapping
        What `datapackage.json` says: the licence, what was left out, what each column means, and
        how far positions and birth years tell athletes apart.
    athletes : DataFrame
        `athlete`, `position`, `birth_year`.
    measures : DataFrame
        `measure`, `name`, `unit`, `better`, `volume_unit`, `standard_volume`, `worthwhile_pct`,
        `effort_rest_seconds`.
    all_efforts : DataFrame
        An efforts file of all measures.

    Notes
    -----
    Units: values in the measure's unit, volumes in its volume unit as done, minutes, degrees
    Celsius, kg, %.
    Missing values: facts that nobody gave, or that were left out, are missing.
    Source: Frictionless Data Package, for the form.
    """

    description: Mapping[str, Any]
    athletes: pd.DataFrame
    measures: pd.DataFrame
    all_efforts: pd.DataFrame

    def efforts(self, measure: str) -> pd.DataFrame:
        """Give the efforts of a measure, as `ResponseModel.fit` takes them.

        Parameters
        ----------
        measure : str
            A code.

        Returns
        -------
        DataFrame
            The rows of `all_efforts` of that measure.

        Raises
        ------
        BadInput
            There is no such measure in the package.
        """
        self._row(measure)
        rows = self.all_efforts
        return rows[rows["measure"] == measure].reset_index(drop=True)

    def settings(self, measure: str) -> dict[str, Any]:
        """Give the settings of the club's own fit of a measure, to pass to `ResponseModel`.

        Parameters
        ----------
        measure : str
            A code.

        Returns
        -------
        dict
            `standard_volume` and `effort_rest_seconds` (None if the club has none),
            `worthwhile_pct` and `higher_is_better`.

        Raises
        ------
        BadInput
            There is no such measure in the package.
        """
        row = self._row(measure)
        told = row.astype(object).where(row.notna(), None)
        return {
            "standard_volume": told["standard_volume"],
            "effort_rest_seconds": told["effort_rest_seconds"],
            "worthwhile_pct": float(row["worthwhile_pct"]),
            "higher_is_better": row["better"] == "higher",
        }

    def _row(self, measure: str) -> pd.Series:
        rows = self.measures[self.measures["measure"] == measure]
        if rows.empty:
            known = ", ".join(self.measures["measure"])
            raise BadInput(f"There is no measure '{measure}' in the package. There are {known}.")
        return rows.iloc[0]


def open_package(path: Path | str) -> OpenPackage:
    """Read an open package, if it has not changed since it was made.

    Parameters
    ----------
    path : Path or str
        The zip.

    Returns
    -------
    OpenPackage

    Raises
    ------
    BadInput
        There is no such file.
    StoreDamaged
        The file is not an open package, or has changed since it was made.

    Notes
    -----
    Units: none.
    Missing values: as they stand in the package.
    Source: Frictionless Data Package.
    """
    path = Path(path).expanduser()
    try:
        with zipfile.ZipFile(path) as archive:
            said = archive.read(DESCRIPTION_NAME)
            resources = _Description.model_validate_json(said).resources
            frames = {each.name: _rows(archive, each) for each in resources}
        return OpenPackage(
            json.loads(said), frames["athletes"], frames["measures"], frames["efforts"]
        )
    except OSError as error:
        raise BadInput(f"The file {path} cannot be read: {error.strerror}.") from error
    except (zipfile.BadZipFile, KeyError, ValueError, ValidationError) as error:
        raise StoreDamaged(
            f"The file {path} is no open package, or is not as it was made. Take it again from "
            "where you had it."
        ) from error


def _rows(archive: zipfile.ZipFile, resource: Resource) -> pd.DataFrame:
    content = archive.read(resource.path)
    if resource.hash != f"sha256:{hashlib.sha256(content).hexdigest()}":
        raise ValueError(f"{resource.path} has changed")
    return pd.read_parquet(io.BytesIO(content))
