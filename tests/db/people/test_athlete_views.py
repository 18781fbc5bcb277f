from __future__ import annotations

from datetime import date

import pandas as pd

from db.file.store import Store
from db.people.athlete_views import athlete_views, note_view
from db.people.sight import Sight, in_sight
from db.privacy.erasing import erase_athlete
from db.roster.athletes import save_athletes

FIRST, SECOND = date(2026, 3, 2), date(2026, 3, 5)


def looked_at(store: Store) -> Store:
    save_athletes(store, pd.DataFrame({"athlete": ["A1", "A2"]}), "coach")
    for athlete, person, day in (
        ("A1", "anna", FIRST),
        ("A1", "anna", FIRST),
        ("A1", "anna", SECOND),
        ("A1", "carl", FIRST),
        ("A2", "anna", FIRST),
        ("A77", "anna", FIRST),
    ):
        note_view(store, athlete, person, day)
    return store


def test_people_who_looked_are_listed_with_their_days_latest_first(store: Store) -> None:
    rows = athlete_views(looked_at(store), "A1")
    assert rows["person"].to_list() == ["anna", "carl"]
    assert rows["days"].to_list() == [2, 1]
    assert pd.to_datetime(rows["last_day"]).dt.date.to_list() == [SECOND, FIRST]


def test_looking_changes_neither_the_trail_nor_the_revision(store: Store) -> None:
    save_athletes(store, pd.DataFrame({"athlete": ["A1"]}), "coach")
    before = store.revision()
    note_view(store, "A1", "anna", FIRST)
    assert store.revision() == before
    with store.reading() as cursor:
        assert cursor.execute("SELECT max(revision) FROM audit").fetchone() == (before,)


def test_an_athlete_sees_only_who_looked_at_them(store: Store) -> None:
    own = in_sight(looked_at(store), Sight("one", "A1", ()))
    assert len(athlete_views(own, "A1")) == 2
    assert athlete_views(own, "A2").empty


def test_views_of_an_erased_athlete_are_gone(closed_store: Store) -> None:
    erase_athlete(looked_at(closed_store), "A1", "director")
    with closed_store.reading() as cursor:
        left = cursor.execute("SELECT DISTINCT athlete FROM athlete_view").fetchall()
    assert left == [("A2",)]
