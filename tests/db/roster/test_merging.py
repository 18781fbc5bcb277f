"""Two entries of one athlete become one, and two again."""

from __future__ import annotations

import pytest

from db.efforts.rows import efforts, observations
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.fits.results import newer_data
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.privacy.erasing import erase_athlete
from db.roster.athlete_changes import athletes_in_full
from db.roster.merging import merge_athletes, merge_preview, merges, part_athletes

HEADER = "athlete,started_at,measure,effort,value,kind\n"


def rows_of(code: str, day: int, value: float = 40.0) -> str:
    return "".join(
        f"{code},2026-03-{day:02d}T10:00,jump_height,{number},{value + number},fade\n"
        for number in (1, 2, 3)
    )


@pytest.fixture
def twice(closed_store: Store) -> Store:
    """A store with Anna as both A1 and ANNA, and one session that both have."""
    text = HEADER + rows_of("A1", 1) + rows_of("A1", 2) + rows_of("ANNA", 2) + rows_of("ANNA", 3)
    table = read_table(text.encode(), "a.csv")
    import_efforts(closed_store, table, "test", add_athletes=True)
    return closed_store


def days_of(store: Store, code: str) -> list[int]:
    rows = efforts(store, "jump_height")
    return sorted(set(rows.loc[rows["athlete"] == code, "started_at"].dt.day))


def test_sessions_move_to_the_other_entry_but_shared_ones_stay(twice: Store) -> None:
    preview = merge_preview(twice, "ANNA", "A1")
    assert (preview.sessions, preview.staying, preview.plans) == (1, 1, 0)
    merge_athletes(twice, "ANNA", "A1", "test")
    assert days_of(twice, "A1") == [1, 2, 3] and days_of(twice, "ANNA") == [2]
    active = {each.athlete: each.active for each in athletes_in_full(twice)}
    assert active["A1"] and not active["ANNA"]
    assert check(twice) == []
    [merge] = merges(twice)
    assert (merge.athlete, merge.other_athlete, merge.person) == ("ANNA", "A1", "test")


def test_a_merge_is_undone_completely(twice: Store) -> None:
    before = observations(twice, "jump_height")
    merge_athletes(twice, "ANNA", "A1", "test")
    part_athletes(twice, merges(twice)[0].merge_id, "test")
    assert observations(twice, "jump_height").equals(before)
    assert all(each.active for each in athletes_in_full(twice))
    assert merges(twice) == [] and check(twice) == []
    with pytest.raises(BadInput, match="undone already"):
        part_athletes(twice, 1, "test")


def test_a_merge_only_adds_a_line_to_the_audit(twice: Store) -> None:
    def lines() -> list[tuple[object, ...]]:
        with twice.reading() as cursor:
            return cursor.execute("SELECT * FROM audit ORDER BY revision").fetchall()

    before = lines()
    merge_athletes(twice, "ANNA", "A1", "test")
    assert lines()[:-1] == before and "ANNA into A1" in lines()[-1]


def test_a_file_under_the_old_code_is_stored_under_the_other(twice: Store) -> None:
    merge_athletes(twice, "ANNA", "A1", "test")
    text = HEADER + rows_of("ANNA", 3) + rows_of("ANNA", 4)
    report = import_efforts(twice, read_table(text.encode(), "b.csv"), "test")
    assert (report.stored, report.known) == (3, 3)
    assert days_of(twice, "A1") == [1, 2, 3, 4]


def test_curves_are_out_of_date_after_a_merge(twice: Store) -> None:
    with twice.writing("test", "fit") as cursor:
        changed = "SELECT count(*) FROM effort WHERE revision > ?"
        revision = twice.revision()
        assert cursor.execute(changed, [revision]).fetchall() == [(0,)]
    merge_athletes(twice, "ANNA", "A1", "test")
    with twice.reading() as cursor:
        assert cursor.execute(changed, [revision]).fetchall() == [(3,)]
    assert newer_data(twice, "jump_height") == 12


@pytest.mark.parametrize(
    ("pair", "sentence"),
    [
        (("A1", "A1"), "cannot be merged with itself"),
        (("A1", "nobody"), "There is no athlete with the code 'nobody'"),
        (("ANNA", "A2"), "'ANNA' is merged into another entry already"),
        (("A2", "ANNA"), "'ANNA' is merged into another entry already"),
    ],
)
def test_entries_that_cannot_be_merged_are_refused(
    twice: Store, pair: tuple[str, str], sentence: str
) -> None:
    merge_athletes(twice, "ANNA", "A1", "test")
    with pytest.raises(BadInput, match=sentence):
        merge_athletes(twice, *pair, "test")
    assert len(merges(twice)) == 1


def test_successive_merges_are_undone_from_the_last_one(twice: Store) -> None:
    merge_athletes(twice, "ANNA", "A1", "test")
    merge_athletes(twice, "A1", "A2", "test")
    assert days_of(twice, "A2") == [1, 2, 3]
    text = HEADER + rows_of("ANNA", 5)
    import_efforts(twice, read_table(text.encode(), "b.csv"), "test")
    assert days_of(twice, "A2") == [1, 2, 3, 5]
    with pytest.raises(BadInput, match="'A1' was merged itself since"):
        part_athletes(twice, 1, "test")
    part_athletes(twice, 2, "test")
    part_athletes(twice, 1, "test")
    assert days_of(twice, "ANNA") == [2, 3]


def test_erasing_an_athlete_erases_their_merges(twice: Store) -> None:
    merge_athletes(twice, "ANNA", "A1", "test")
    erase_athlete(twice, "ANNA", "test")
    assert merges(twice) == [] and check(twice) == []
    with twice.reading() as cursor:
        assert cursor.execute("SELECT count(*) FROM merged_row").fetchall() == [(0,)]
