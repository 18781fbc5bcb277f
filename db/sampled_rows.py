"""Tells by some of its rows whether a file is what it is read as, before all are judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from db.effort_files import RawTable
from db.parsed_rows import parse_rows
from db.row_checks import sort_rows
from db.session_keys import KEY, OFFSET
from db.store import Store
from db.unusable_files import unusable_file

# Rows that follow each other, as those of a session need each other; from all over the file, as
# the first athletes of a long list can be unknown and the others not.
_RUNS, _RUN_ROWS = 10, 1_000
_MOST_UNUSABLE = 0.95


def check_sample(store: Store, table: RawTable, add_athletes: bool) -> None:
    """Refuse a large file nearly all rows of which would be set aside, or repeat each other.

    Parameters
    ----------
    store : Store
        Whose athletes, measures and efforts the rows are held against.
    table : RawTable
        The file.
    add_athletes : bool
        Whether unknown athletes are added.

    Raises
    ------
    UnusableFile
        If it is so.
    """
    places = sampled_places(len(table.frame))
    if len(places) == len(table.frame):
        return
    parsed = parse_rows(replace(table, frame=table.frame.iloc[places]))
    with store.reading() as cursor:
        aside = sort_rows(cursor, parsed, add_athletes).set_aside
    repeated = parsed.frame.duplicated([*KEY, OFFSET, "effort"]).to_numpy(copy=True)
    repeated[aside.index] = False
    faults = list(zip(aside["line"], aside["column"], aside["reason"], strict=True)) + [
        (line, "effort", "an earlier row has the same effort")
        for line in parsed.frame["line"][repeated]
    ]
    # What is in doubt by itself can be settled by the rest of the file.
    if len(faults) > _MOST_UNUSABLE * len(places) and not parsed.asked:
        raise unusable_file(
            table.name,
            f"{len(faults):,} of {len(places):,} rows from all over the {len(table.frame):,}",
            faults,
            parsed.asked,
        )


def sampled_places(rows: int) -> npt.NDArray[np.intp]:
    """Give the places of the rows that are judged first: all of a file that is not large."""
    if rows <= _RUNS * _RUN_ROWS:
        return np.arange(rows)
    begins = np.linspace(0, rows - _RUN_ROWS, _RUNS).astype(np.intp)
    return (begins[:, None] + np.arange(_RUN_ROWS)).ravel()
