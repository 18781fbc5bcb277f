"""Check a sample of a file's rows before judging all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from db.file.store import Store
from db.imports.effort_files import RawTable
from db.imports.parsed_rows import parse_rows
from db.imports.row_checks import sort_rows
from db.imports.session_keys import KEY, OFFSET
from db.imports.unusable_files import unusable_file
from db.tables.limits import MOST_SET_ASIDE

# Runs of rows, because the rows of a session need each other; from all over the file, because the
# first athletes of a long list may be unknown and the others known.
_RUNS, _RUN_ROWS = 10, 1_000
_MOST_UNUSABLE = 0.95
# This share is enough if it would come to far more rows than may be set aside.
_MANY = 0.5


def check_sample(
    store: Store,
    table: RawTable,
    add_athletes: bool,
    read: Callable[[RawTable], RawTable] = lambda table: table,
    efforts_each: int = 1,
) -> None:
    """Refuse a large file if nearly all its rows would be set aside or repeat each other.

    Parameters
    ----------
    store : Store
        The rows are compared with its athletes, measures and efforts.
    table : RawTable
        The file.
    add_athletes : bool
        Whether unknown athletes are added.
    read : callable, optional
        Turns the table into one of efforts; by default it is one already.
    efforts_each : int
        The most efforts that a row then has.

    Raises
    ------
    UnusableFile
        If so few rows of the sample can be used.
    """
    places = sampled_places(len(table.frame), efforts_each)
    if len(places) == len(table.frame):
        return
    # A sample cannot show that every start in the file is midnight, so midnight counts as a time.
    parsed = parse_rows(read(replace(table, frame=table.frame.iloc[places], times_said=True)))
    with store.reading() as cursor:
        aside = sort_rows(cursor, parsed, add_athletes).set_aside
    repeated = parsed.frame.duplicated([*KEY, OFFSET, "effort"]).to_numpy(copy=True)
    repeated[aside.index] = False
    faults = list(zip(aside["line"], aside["column"], aside["reason"], strict=True)) + [
        (line, "effort", "an earlier row has the same effort")
        for line in parsed.frame["line"][repeated]
    ]
    rows = len(parsed.frame)
    share = len(aside) / rows
    hopeless = share > _MANY and share * len(table.frame) > 2 * MOST_SET_ASIDE
    nearly_all = len(faults) > _MOST_UNUSABLE * rows
    # Rows outside the sample may settle numbers that are in doubt.
    if (nearly_all or hopeless) and "decimal_mark" not in parsed.asked:
        found = f"{len(faults):,} of {rows:,} rows from all parts"
        raise unusable_file(table.name, found, faults, parsed.asked)


def sampled_places(rows: int, efforts_each: int = 1) -> npt.NDArray[np.intp]:
    """Return the places of the rows to judge first; if the file is not large, of all its rows."""
    run = -(-_RUN_ROWS // efforts_each)
    if rows <= _RUNS * run:
        return np.arange(rows)
    begins = np.linspace(0, rows - run, _RUNS).astype(np.intp)
    return (begins[:, None] + np.arange(run)).ravel()
