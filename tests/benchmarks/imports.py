"""How much time and memory an import takes, against DuckDB's own reading of the file.

    python -m tests.benchmarks.imports --rows 1000000

prints a table in Markdown. Each runs in its own process, one at a time. DuckDB copies the file
into a new table of a new store, with the types given and without checks or accounting: once
without a key, and once with a key that refuses an effort that is already there, as in the store.
The exit status is 1 if the import took more than 4 times as long as the copy without a key, or
more than 1 GiB.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import duckdb
import numpy as np
import pandas as pd

from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from tests.benchmarks.fresh_process import Measured, in_fresh_process
from tests.benchmarks.markdown import table

__all__ = ["copy_seconds", "efforts_file", "import_seconds", "keyed_copy_seconds", "main"]

MOST_TIMES, MOST_MIB = 4.0, 1024.0
EFFORTS_EACH, ATHLETES = 10, 100
TYPES = (
    "athlete VARCHAR, started_at TIMESTAMP, measure VARCHAR, effort INTEGER, value DOUBLE, "
    "volume_before DOUBLE, kind VARCHAR, context VARCHAR, rest_minutes DOUBLE, ambient_c DOUBLE"
)

KEY = ", UNIQUE (athlete, measure, started_at, effort)"
COPY = "DuckDB's COPY"


def efforts_file(path: Path, rows: int) -> None:
    """Write routine sessions of ten jumps each."""
    random = np.random.default_rng(rows)
    number = np.arange(rows)
    session = number // EFFORTS_EACH
    started = pd.Timestamp("2005-01-01T06:00") + pd.to_timedelta(session * 97, unit="min")
    pd.DataFrame(
        {
            "athlete": pd.Series(session % ATHLETES + 1).map("A{}".format),
            "started_at": pd.Series(started).dt.strftime("%Y-%m-%dT%H:%M"),
            "measure": "jump_height",
            "effort": number % EFFORTS_EACH + 1,
            "value": random.normal(40.0, 3.0, rows).round(2),
            "volume_before": session % 7 + number % EFFORTS_EACH,
            "kind": "routine",
            "context": "training",
            "rest_minutes": session % 11,
            "ambient_c": (15.0 + session % 90 / 10).round(1),
        }
    ).to_csv(path, index=False)


def import_seconds(file: Path, store: Path) -> float:
    """Import a file into a new store, and return the seconds without making the store."""
    target = Store(store)
    target.create()
    began = perf_counter()
    report = import_efforts(target, read_table(file), "benchmark", add_athletes=True)
    seconds = perf_counter() - began
    assert report.stored == report.rows_read > 0
    return seconds


def copy_seconds(file: Path, store: Path, key: str = "") -> float:
    """Let DuckDB copy a file into a table of a new store, and return the seconds."""
    with duckdb.connect(store) as connection:
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"CREATE TABLE raw_effort ({TYPES}{key})")
        began = perf_counter()
        connection.execute(f"COPY raw_effort FROM '{file}' (FORMAT csv, HEADER)")
        connection.execute("CHECKPOINT")
        return perf_counter() - began


def keyed_copy_seconds(file: Path, store: Path) -> float:
    """Do the same with a table that has a key."""
    return copy_seconds(file, store, KEY)


def main() -> None:
    """Time all on one file and print the table; exit with status 1 if a limit is exceeded."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=3, help="runs of each; the median counts")
    asked = parser.parse_args()
    with TemporaryDirectory() as folder:
        file = Path(folder) / "efforts.csv"
        in_fresh_process(efforts_file, file, asked.rows)
        found: dict[str, list[Measured]] = {COPY: [], f"{COPY} with a key": [], "import": []}
        tasks = (copy_seconds, keyed_copy_seconds, import_seconds)
        for run in range(asked.repeats):
            for name, task in zip(found, tasks, strict=True):
                place = Path(folder) / f"{task.__name__}_{run}.duckdb"
                found[name].append(in_fresh_process(task, file, place))
        size = file.stat().st_size / 2**20
    seconds = {name: float(np.median([run.value for run in runs])) for name, runs in found.items()}
    peaks = {name: max(run.peak_mib for run in runs) for name, runs in found.items()}
    print(f"{asked.rows:,} rows, {size:.0f} MiB, median of {asked.repeats}\n")
    copy = seconds[COPY]
    lines = {
        name: {"seconds": seconds[name], "times": seconds[name] / copy, "peak MiB": peaks[name]}
        for name in found
    }
    print(table(pd.DataFrame.from_dict(lines, orient="index")))
    if seconds["import"] > MOST_TIMES * copy or peaks["import"] > MOST_MIB:
        sys.exit(1)


if __name__ == "__main__":
    main()
