"""Figures from the exports of many clubs, read in place, without anybody's name or code."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from db.errors import BadInput

NEEDED, OTHERS = "responses", ("squad", "efforts")
"""The export that a club's folder must have, and those that it may have."""

Interval = tuple[float, float, float]
"""A median with the ends of its 90 % interval."""


@dataclass(frozen=True)
class ClubMeasure:
    """One measure of one club.

    Attributes
    ----------
    club, measure : str
        The folder's name, and the measure's code.
    athletes, efforts : int
        Athletes with efforts, and number of efforts.
    firm : int
        Athletes with a firm call.
    newest : date or None
        Day of the newest session.
    tests : int or None
        Fade tests since the day asked for; None without an export of efforts.
    worth, spread : tuple or None
        What own lengths bring over the standard in %, and the standard deviation of log best
        volumes across athletes, with intervals; None if not exported.
    """

    club: str
    measure: str
    athletes: int
    efforts: int
    firm: int
    newest: date | None
    tests: int | None
    worth: Interval | None
    spread: Interval | None


def club_measures(folder: Path, since: date) -> list[ClubMeasure]:
    """Read a club's exports, CSV or Parquet, from its folder.

    Parameters
    ----------
    folder : Path
        Has responses.parquet or responses.csv, and may have squad and efforts beside it.
    since : date
        Tests are counted from this day on.

    Raises
    ------
    BadInput
        If there is no such folder, it has no responses, or an export cannot be read.
    """
    if not folder.is_dir():
        raise BadInput(f"There is no folder {folder}.")
    responses = _export(folder, NEEDED)
    if responses is None:
        raise BadInput(
            f"The folder {folder.name} has no responses.parquet or responses.csv. Make it there"
            " with 'warmcurve export responses responses.parquet'."
        )
    squad, efforts = (_export(folder, name) for name in OTHERS)
    with duckdb.connect() as connection:
        found = _rows(
            connection,
            responses,
            "SELECT measure, count(*) FILTER (efforts > 0), sum(efforts)::BIGINT, "
            "count(*) FILTER (call <> 'not known'), max(last_session)::DATE FROM {} "
            "GROUP BY measure ORDER BY measure",
        )
        said = {} if squad is None else _said(connection, squad)
        tests = None if efforts is None else _tests(connection, efforts, since)
    return [
        ClubMeasure(
            folder.name,
            *(measure, athletes, total or 0, firm, newest),
            tests=None if tests is None else tests.get(measure, 0),
            worth=said.get(measure, (None, None))[0],
            spread=said.get(measure, (None, None))[1],
        )
        for measure, athletes, total, firm, newest in found
    ]


def _export(folder: Path, name: str) -> Path | None:
    paths = (folder / f"{name}{ending}" for ending in (".parquet", ".csv"))
    return next((path for path in paths if path.is_file()), None)


def _rows(
    connection: duckdb.DuckDBPyConnection, path: Path, query: str, *more: object
) -> list[tuple[Any, ...]]:
    """Query an export; `{}` in the query stands for its table."""
    reader = "read_parquet($1)" if path.suffix == ".parquet" else "read_csv($1)"
    try:
        return connection.execute(query.format(reader), [str(path), *more]).fetchall()
    except duckdb.Error as error:
        raise BadInput(
            f"{path.parent.name}/{path.name} is no export of warmcurve, or damaged. Make it again."
        ) from error


def _said(
    connection: duckdb.DuckDBPyConnection, squad: Path
) -> dict[str, tuple[Interval | None, Interval | None]]:
    rows = _rows(
        connection,
        squad,
        "SELECT measure, worth_over_standard_pct, worth_over_standard_pct_low, "
        "worth_over_standard_pct_high, spread_log_sd, spread_log_sd_low, spread_log_sd_high "
        "FROM {}",
    )
    return {measure: (_interval(*each[:3]), _interval(*each[3:])) for measure, *each in rows}


def _interval(*ends: float | None) -> Interval | None:
    known = [end for end in ends if end is not None and end == end]
    return (known[0], known[1], known[2]) if len(known) == 3 else None


def _tests(connection: duckdb.DuckDBPyConnection, efforts: Path, since: date) -> dict[str, int]:
    rows = _rows(
        connection,
        efforts,
        "SELECT measure, count(DISTINCT (athlete, started_at)) FROM {} WHERE kind = 'fade' "
        "AND left(started_at::VARCHAR, 10) >= $2 GROUP BY measure",
        since.isoformat(),
    )
    return dict(rows)
