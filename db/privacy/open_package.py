"""A club's efforts for research, without names, as an open data package like that of a backup."""

from __future__ import annotations

import json
import os
import secrets
import zipfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from db.backup.data_package import write_tables
from db.backup.files import DESCRIPTION_NAME
from db.errors import BadInput
from db.file.frames import fetch, insert, registered
from db.file.store import Store
from db.file.unfinished import unfinished
from db.fits.exports import STARTED_AT
from db.privacy.anonymity import Anonymity, anonymity
from db.roster.measures import list_measures
from db.roster.protocols import rest_asked_for

__all__ = ["PACKAGE_SCHEMA", "OpenPackageReport", "write_open_package"]

PACKAGE_SCHEMA = Path(__file__).with_suffix(".sql")
README_NAME = "README.md"
MOST_DAYS = 365
"""The most days by which an athlete's dates are moved."""
WITHOUT_NAMES = (
    "Codes are given by lot and nobody keeps whose they were. Names, notes, reasons, pain, joints "
    "and mobility are left out."
)
AS_THEY_WERE = "Dates are as they were."
MOVED = (
    "Dates are moved back, for each athlete by whole days of their own, 1 to "
    f"{MOST_DAYS}; hours, and days between sessions of an athlete, are as they were."
)
_ATHLETES = """
SELECT code AS athlete, CASE WHEN $1 THEN position END AS position,
       CASE WHEN $2 THEN year(born) END AS birth_year
FROM athlete JOIN codes USING (athlete) ORDER BY code
"""
_MEASURES = """
SELECT measure, name, unit, better, volume_unit,
       coalesce(standard_volume, median_volume) AS standard_volume, worthwhile_pct,
       effort_rest_seconds
FROM measure JOIN asked_rests USING (measure) LEFT JOIN routine_volume USING (measure)
WHERE measure IN (SELECT measure FROM effort_detail)
  AND ($1 IS NULL OR measure = $1) ORDER BY measure
"""
_EFFORTS = f"""
SELECT code AS athlete, {STARTED_AT} AS started_at, measure, effort, value,
       volume AS volume_before, kind, context, general_minutes, rest_minutes,
       effort_rest_seconds, ambient_c, days_since_game, load_kg, planned_volume, freshness,
       CASE WHEN excluded IS NOT NULL THEN 'not used by the club' END AS excluded
FROM (SELECT * REPLACE (started_at - to_days(days) AS started_at)
      FROM effort_detail JOIN codes USING (athlete)) effort_detail
WHERE $1 IS NULL OR measure = $1
ORDER BY measure, code, effort_detail.started_at, session_id, effort
"""


@dataclass(frozen=True)
class OpenPackageReport:
    """What was written, and how far it tells athletes apart.

    Attributes
    ----------
    athletes, measures, efforts : int
    positions : tuple of str
        As they are in the package; the club wrote them, so they may name somebody.
    anonymity : tuple of Anonymity
        By positions, by birth years, and by both.
    """

    athletes: int
    measures: int
    efforts: int
    positions: tuple[str, ...]
    anonymity: tuple[Anonymity, ...]


def write_open_package(
    store: Store,
    path: Path | str,
    measure: str | None = None,
    licence: str | None = None,
    move_dates: bool = False,
    positions: bool = True,
    birth_years: bool = True,
) -> OpenPackageReport:
    """Write efforts, the athletes' positions and birth years, and measures as a zip.

    Parameters
    ----------
    store : Store
    path : Path or str
        Ends in .zip; replaced as a whole or not at all.
    measure : str, optional
        A code; None takes all measures.
    licence : str, optional
        The licence under which others may use the data, such as CC-BY-4.0.
    move_dates : bool
        Whether to move each athlete's dates by a number of days of their own.
    positions, birth_years : bool
        Whether to include them.

    Raises
    ------
    BadInput
        If there are no efforts, the ending is another one or the file cannot be written.
    """
    path = Path(path).expanduser()
    if path.suffix.lower() != ".zip":
        raise BadInput(f"A package is written as .zip, and {path.name} does not end so.")
    frames = _frames(store, measure, move_dates, positions, birth_years)
    athletes = frames["athletes"]
    report = OpenPackageReport(
        athletes=len(athletes),
        measures=len(frames["measures"]),
        efforts=len(frames["efforts"]),
        positions=tuple(sorted(athletes["position"].dropna().unique())),
        anonymity=tuple(
            anonymity(athletes, columns)
            for columns in (["position"], ["birth_year"], ["position", "birth_year"])
        ),
    )
    dates = MOVED if move_dates else AS_THEY_WERE
    try:
        with unfinished(path.parent) as part:
            folder = part / "unpacked"
            folder.mkdir(mode=0o700)
            (folder / "data").mkdir()
            description = _describe(_written(frames, folder), report, licence, dates)
            _pack(folder, description, part / "file")
            os.replace(part / "file", path)
    except OSError as error:
        raise BadInput(
            f"The file {path} cannot be written: {error.strerror}. Check the folder."
        ) from error
    return report


def _frames(
    store: Store, measure: str | None, move_dates: bool, positions: bool, birth_years: bool
) -> dict[str, pd.DataFrame]:
    """Read the rows from one state of the store, under new codes."""
    asked = [(each.code, rest_asked_for(store, each)) for each in list_measures(store)]
    rests = pd.DataFrame(asked, columns=["measure", "effort_rest_seconds"])
    with store.reading() as cursor:
        known = fetch(
            cursor,
            "SELECT DISTINCT athlete FROM effort_detail WHERE $1 IS NULL OR measure = $1",
            [measure],
        )["athlete"]
        if known.empty:
            raise BadInput("There are no efforts to write. Import a file, or enter a session.")
        with (
            registered(cursor, "codes", _codes(list(known), move_dates)),
            registered(cursor, "asked_rests", rests.astype({"effort_rest_seconds": float})),
        ):
            return {
                "athletes": fetch(cursor, _ATHLETES, [positions, birth_years]),
                "measures": fetch(cursor, _MEASURES, [measure]),
                "efforts": fetch(cursor, _EFFORTS, [measure]),
            }


def _codes(athletes: list[str], move_dates: bool) -> pd.DataFrame:
    """Give each athlete a random code, and the number of days to move the dates back."""
    lot = secrets.SystemRandom()
    lot.shuffle(athletes)
    digits = len(str(len(athletes)))
    return pd.DataFrame(
        {
            "athlete": athletes,
            "code": [f"P{number:0{digits}}" for number in range(1, len(athletes) + 1)],
            "days": [lot.randint(1, MOST_DAYS) if move_dates else 0 for _ in athletes],
        }
    )


def _written(frames: Mapping[str, pd.DataFrame], folder: Path) -> list[dict[str, Any]]:
    """Write the rows as Parquet, checked by the tables of the package, and describe the files."""
    with duckdb.connect() as root:
        root.execute(PACKAGE_SCHEMA.read_text(encoding="utf-8"))
        for table, frame in frames.items():
            insert(root, table, frame)
        return write_tables(root, folder)


def _describe(
    resources: list[dict[str, Any]], report: OpenPackageReport, licence: str | None, dates: str
) -> dict[str, Any]:
    licences = {"licenses": [{"name": licence}]} if licence else {}
    return {
        "name": "warmcurve-efforts",
        "title": "Efforts of a squad after different volumes of warm-up, without names",
        "profile": "data-package",
        "created": datetime.now(UTC).isoformat(timespec="seconds"),
        **licences,
        "description": f"{WITHOUT_NAMES} {dates}",
        "anonymity": [asdict(each) for each in report.anonymity],
        "resources": resources,
    }


def _pack(folder: Path, description: dict[str, Any], target: Path) -> None:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(README_NAME, _readme(description))
        archive.writestr(
            DESCRIPTION_NAME, json.dumps(description, indent=2, ensure_ascii=False) + "\n"
        )
        for resource in description["resources"]:
            archive.write(folder / resource["path"], resource["path"])


def _readme(description: dict[str, Any]) -> str:
    """Say in plain words what the package is, and what each column means."""
    licences = description.get("licenses")
    allowed = (
        f"Licence: {licences[0]['name']}."
        if licences
        else ("It comes without a licence: ask the club before you use it.")
    )
    parts = [f"# {description['title']}\n\n{description['description']} {allowed}\n"]
    parts += [f"{_shared_by(each)}\n" for each in description["anonymity"]]
    for resource in description["resources"]:
        parts.append(f"## {resource['path']}\n\n{resource['description']}\n")
        fields = resource["schema"]["fields"]
        parts += [f"* `{each['name']}`: {each['description']}" for each in fields] + [""]
    return "\n".join(parts)


def _shared_by(counted: Mapping[str, Any]) -> str:
    columns = " and ".join(counted["columns"])
    return (
        f"By {columns} the {counted['athletes']} athletes are in {counted['groups']} groups, the "
        f"smallest of {counted['smallest']}; {counted['alone']} stand alone."
    )
