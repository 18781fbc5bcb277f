"""What a store knows that helps to read a file: athletes, measures, and earlier readings."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from db.file.store import Store
from db.imports.kept_mappings import LONGEST_NAME, get_mapping, list_mappings, save_mapping
from db.imports.mappings import ColumnMapping, mapping_from_json
from db.layouts.laid_out import LaidOut
from db.readings.readings import Known
from db.roster.measures import measures_of

__all__ = ["free_name", "keep_reading", "known_of", "names_athletes", "remembered"]

_ENOUGH_EFFORTS = 50
_WIDER = 1.3
"""The factor by which new values of a measure can usually be outside the stored range."""


def known_of(store: Store, may_add: bool = True) -> Known:
    """Return what the store knows about athletes and measures.

    Parameters
    ----------
    store : Store
        The store, as the person who imports sees it.
    may_add : bool
        Whether that person may add athletes.
    """
    with store.reading() as cursor:
        athletes = cursor.execute("SELECT athlete, name FROM athlete").fetchall()
        measures = tuple(measures_of(cursor))
        usual = cursor.execute(
            "SELECT measure, quantile_cont(value, 0.01), quantile_cont(value, 0.99) "
            "FROM effort_detail GROUP BY measure HAVING count(*) >= ?",
            [_ENOUGH_EFFORTS],
        ).fetchall()
        said = cursor.execute(
            "SELECT written, min(athlete) FROM mapping_athlete "
            "WHERE athlete IN (SELECT athlete FROM athlete) "
            "GROUP BY written HAVING count(DISTINCT athlete) = 1"
        ).fetchall()
    return Known(
        dict(athletes),
        measures,
        {measure: (low / _WIDER, high * _WIDER) for measure, low, high in usual},
        dict(said),
        date.today() + timedelta(days=1),
        may_add,
    )


def remembered(store: Store, shape: tuple[str, ...]) -> tuple[str, ColumnMapping] | None:
    """Return the name and the mapping of the reading last saved for a header, if there is one."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT mapping, mapping_json FROM mapping ORDER BY saved_at DESC, mapping"
        ).fetchall()
    for name, written in rows:
        mapping = mapping_from_json(written)
        if shape and mapping.shape == shape:
            return str(name), get_mapping(store, str(name))
    return None


def names_athletes(mapping: ColumnMapping) -> bool:
    """Tell whether the columns of a file are athletes, so its header names people."""
    return any("athlete" in each.says for each in mapping.values)


def free_name(store: Store, laid: LaidOut) -> str:
    """Return a name for the reading of a file: the file's, with a number if it is taken."""
    name = " ".join(Path(laid.said[0] or "file").name.split())[: LONGEST_NAME - 5] or "file"
    name = "".join(sign for sign in name if sign.isprintable()) or "file"
    taken, free, number = set(list_mappings(store)), name, 2
    while free in taken:
        free, number = f"{name} {number}", number + 1
    return free


def keep_reading(store: Store, name: str, mapping: ColumnMapping, person: str) -> None:
    """Save a reading for files with the same header, unless it is saved already."""
    if name in list_mappings(store):
        before = get_mapping(store, name)
        # Keep names that are not in this file for the next one.
        if {"athlete"} <= before.sources.keys() & mapping.sources.keys():
            codes = {**before.sources["athlete"].codes, **mapping.sources["athlete"].codes}
            mapping = mapping.with_athletes(codes)
        if before == mapping:
            return
    save_mapping(store, name, mapping, person)
