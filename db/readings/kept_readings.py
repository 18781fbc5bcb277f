"""What a store knows that helps to read a file: athletes, measures, and earlier readings."""

from __future__ import annotations

from datetime import date, timedelta

from db.file.store import Store
from db.imports.mappings import ColumnMapping, mapping_from_json
from db.readings.readings import Known
from db.roster.measures import measures_of

__all__ = ["known_of", "remembered"]

_ENOUGH_EFFORTS = 50
_WIDER = 1.3
"""How far beyond what is stored values of a measure can usually be."""


def known_of(store: Store, may_add: bool = True) -> Known:
    """Give what the store knows of athletes and measures.

    Parameters
    ----------
    store : Store
        As the person who imports sees it.
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
    """Give the reading that was last saved for files of a header, and its name."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT mapping, mapping_json FROM mapping ORDER BY saved_at DESC, mapping"
        ).fetchall()
    for name, written in rows:
        mapping = mapping_from_json(written)
        if mapping.shape == shape:
            return str(name), mapping
    return None
