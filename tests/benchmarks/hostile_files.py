"""How quickly, and in how much memory, files made to exhaust both are refused.

    python -m tests.benchmarks.hostile_files

makes each file of `tests/db/hostile_files.py` in its full size, reads it and checks its rows in
its own process as the import does. It prints a table in Markdown: the size of the file, the
seconds, the memory beyond what the program held before, and the sentence. The exit status is 1 if
a file was not refused, or took more than 5 s or 500 MiB.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

import pandas as pd

from db.errors import BadInput
from db.file.store import Store
from db.imports.kept_mappings import read_efforts
from db.imports.storing import check_rows
from db.roster.athletes import save_athletes
from tests.benchmarks.fresh_process import in_fresh_process, peak_mib
from tests.benchmarks.markdown import table
from tests.db.hostile_files import HOSTILE, WRONG

__all__ = ["main", "refused"]

MOST_SECONDS, MOST_MIB = 5.0, 500.0
READ = "READ"


@dataclass(frozen=True)
class Refusal:
    """The time and memory that reading a file took, and the answer."""

    seconds: float
    processor_seconds: float
    added_mib: float
    said: str


def write(make: Callable[[], bytes], path: Path) -> None:
    """Write a file."""
    path.write_bytes(make())


def refused(path: Path) -> Refusal:
    """Read a file as an import does, and return what happened."""
    store = Store(path.parent / "empty.duckdb")
    store.create()
    save_athletes(store, pd.DataFrame({"athlete": ["A1"]}), "tester")
    import_module("db.tables.sheet_cells")  # beforehand, so that only the reading is measured
    before, began, worked = peak_mib(), perf_counter(), process_time()
    try:
        check = check_rows(store, read_efforts(store, path))
        said = f"{READ}: {check.rows_read} rows, {len(check.set_aside)} set aside"
    except BadInput as refusal:
        said = refusal.message
    return Refusal(perf_counter() - began, process_time() - worked, peak_mib() - before, said)


def main() -> None:
    """Make, read and list the files; exit with status 1 if a limit is exceeded."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="some of the files; by default all")
    asked = parser.parse_args()
    rows, missed = {}, False
    with TemporaryDirectory() as folder:
        for ending, makers in HOSTILE.items():
            for make in (*makers, *WRONG[ending]):
                if asked.names and make.__name__ not in asked.names:
                    continue
                path = Path(folder) / f"{make.__name__}.{ending}"
                in_fresh_process(write, make, path)
                found: Refusal = in_fresh_process(refused, path).value
                missed |= found.said.startswith(READ)
                missed |= found.seconds > MOST_SECONDS or found.added_mib > MOST_MIB
                rows[path.name] = {
                    "file, KiB": f"{path.stat().st_size / 2**10:,.0f}",
                    "seconds": found.seconds,
                    "processor's": found.processor_seconds,
                    "MiB": f"{found.added_mib:.0f}",
                    "sentence": found.said.replace(str(path), path.name),
                }
                path.unlink()
    print(table(pd.DataFrame.from_dict(rows, orient="index")))
    if missed:
        sys.exit(1)


if __name__ == "__main__":
    main()
