"""Tells by some of its rows whether a file is what it is read as, before all are judged."""

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

# Rows that follow each other, as those of a session need each other; from all over the file, as
# the first athletes of a long list can be unknown and the others not.
_RUNS, _RUN_ROWS = 10, 1_000
_MOST_UNUSABLE = 0.95
# Of so many, where the file has far more than are set aside, there is no doubt either.
_MANY = 0.5


def check_sample(
    store: Store,
    table: RawTable,
    add_athletes: bool,
    read: Callable[[RawTable], RawTable] = lambda table: table,
    efforts_each: int = 1,
) -> None:
    """Refuse a large file nearly all rows of which would be set aside, or repeat each other.

    Parameters
    ----------
    store : Store
        Whose athletes, measures and efforts the rows are held against.
    table : RawTable
        The file.
    add_athletes : bool
        Whether unknown athletes are added.
    read : callable, optional
        Reads such a file as one of efforts; by default it is one.
    efforts_each : int
        The most efforts that it then finds in a row.

    Raises
    ------
    UnusableFile
        If it is so.
    """
    places = sampled_places(len(table.frame), efforts_each)
    if len(places) == len(table.frame):
        return
    # Midnight is a time as long as no row shows that it is none.
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
    # Numbers in doubt by themselves can be settled by the rest of the file.
    if (nearly_all or hopeless) and "decimal_mark" not in parsed.asked:
        found = f"{len(faults):,} of {rows:,} rows from all parts"
        raise unusable_file(table.name, found, faults, parsed.asked)


def sampled_places(rows: int, efforts_each: int = 1) -> npt.NDArray[np.intp]:
    """Give the places of the rows that are judged first: all of a file that is not large."""
    run = -(-_RUN_ROWS // efforts_each)
    if rows <= _RUNS * run:
        return np.arange(rows)
    begins = np.linspace(0, rows - run, _RUNS).astype(np.intp)
    return (begins[:, None] + np.arange(run)).ravel()
