"""How far a new store has come: what its first user has done and what is next."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from db.errors import BadInput
from db.file.settings import get_setting, set_setting
from db.file.store import Store

PICTURE_READ = "first_picture_read"
SKIPPED, MEASURE, CLUB = "first_skipped", "first_measure", "club_name"
LONGEST_CLUB = 80


@dataclass(frozen=True)
class FirstRun:
    """What there is in a store.

    Attributes
    ----------
    standards, athletes, efforts, measured, fits : int
        Measures with a standard volume, active athletes, usable efforts, athletes with some, fits.
    picture_read : bool
        Whether somebody said that they have read the first picture.
    club_named : bool
        Whether the club has a name.
    measure : str
        Code of the measure chosen to begin with; empty if none was chosen.
    skipped : frozenset of str
        The steps that somebody chose to skip.
    """

    standards: int
    athletes: int
    efforts: int
    measured: int
    fits: int
    picture_read: bool
    club_named: bool = False
    measure: str = ""
    skipped: frozenset[str] = frozenset()


def first_run(store: Store) -> FirstRun:
    """Read how far the first steps have come."""
    with store.reading() as cursor:
        [(standards, athletes, efforts, measured, fits)] = cursor.execute(
            "SELECT (SELECT count(*) FROM measure WHERE standard_volume IS NOT NULL), "
            "(SELECT count(*) FROM athlete WHERE active), "
            "(SELECT coalesce(sum(efforts), 0)::BIGINT FROM data_summary), "
            "(SELECT count(DISTINCT athlete) FROM data_summary), "
            "(SELECT count(*) FROM fit WHERE data_until IS NULL)"
        ).fetchall()
        return FirstRun(
            standards,
            athletes,
            efforts,
            measured,
            fits,
            picture_read=get_setting(store, PICTURE_READ) == "yes",
            club_named=bool(get_setting(store, CLUB)),
            measure=get_setting(store, MEASURE) or "",
            skipped=frozenset((get_setting(store, SKIPPED) or "").split()),
        )


def mark_picture_read(store: Store, person: str) -> None:
    """Save that the first picture was read; the first steps are then not shown again."""
    set_setting(store, PICTURE_READ, "yes", person)


def skip_step(store: Store, skipped: Collection[str], step: str, person: str) -> None:
    """Save that a step is skipped, in addition to those skipped before."""
    set_setting(store, SKIPPED, " ".join(sorted({*skipped, step})), person)


def begin_with(store: Store, measure: str, person: str) -> None:
    """Save the code of the measure to begin with."""
    set_setting(store, MEASURE, measure, person)


def begun_with(store: Store) -> str:
    """Return the code of the measure to begin with; empty if none was chosen."""
    return get_setting(store, MEASURE) or ""


def name_club(store: Store, name: str, person: str) -> None:
    """Save the club's name, which sheets and the sign-in page show.

    Raises
    ------
    BadInput
        If it is empty or too long.
    """
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_CLUB:
        raise BadInput(f"The club needs a name of 1 to {LONGEST_CLUB} letters.")
    set_setting(store, CLUB, name, person)
