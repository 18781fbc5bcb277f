"""How far a new store has come: what its first user has done and what is next."""

from __future__ import annotations

from dataclasses import dataclass

from db.file.settings import get_setting, set_setting
from db.file.store import Store

PICTURE_READ = "first_picture_read"


@dataclass(frozen=True)
class FirstRun:
    """What there is in a store.

    Attributes
    ----------
    standards, athletes, efforts, measured, fits : int
        Measures with a standard volume, active athletes, usable efforts, athletes with some, fits.
    picture_read : bool
        Whether somebody said that they have read the first picture.
    """

    standards: int
    athletes: int
    efforts: int
    measured: int
    fits: int
    picture_read: bool


def first_run(store: Store) -> FirstRun:
    """Count what the first steps have brought."""
    with store.reading() as cursor:
        [(standards, athletes, efforts, measured, fits)] = cursor.execute(
            "SELECT (SELECT count(*) FROM measure WHERE standard_volume IS NOT NULL), "
            "(SELECT count(*) FROM athlete WHERE active), "
            "(SELECT coalesce(sum(efforts), 0)::BIGINT FROM data_summary), "
            "(SELECT count(DISTINCT athlete) FROM data_summary), "
            "(SELECT count(*) FROM fit WHERE data_until IS NULL)"
        ).fetchall()
        read = get_setting(store, PICTURE_READ) == "yes"
    return FirstRun(standards, athletes, efforts, measured, fits, picture_read=read)


def mark_picture_read(store: Store, person: str) -> None:
    """Keep that the first picture was read, so that the first steps are not shown again."""
    set_setting(store, PICTURE_READ, "yes", person)
