"""Before an athlete is erased: texts of others that may mention them, to keep or to clear."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import pandas as pd
import pytest

from db.efforts.effort_changes import exclude_effort
from db.efforts.rows import efforts
from db.errors import BadInput, StoreError
from db.file.checks import check
from db.file.settings import set_setting
from db.file.store import Store
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.plans.lengths import PlanEntry, save_choice
from db.privacy.erasing import ROW_GONE, erase_athlete
from db.privacy.held_data import athlete_frames
from db.privacy.identity import identity_of, text_columns
from db.privacy.mentions import CLEARED, PROSE, Mention, mentions
from db.privacy.trail import trail
from db.roster.athletes import save_athletes
from tests.db.conftest import HEADER, dump, table_of

DAY = date(2026, 3, 3)


@pytest.fixture
def store(closed_store: Store) -> Iterator[Store]:
    """A store with A2, who will be erased and whose names are ordinary words."""
    store = closed_store
    people = [("A2", "Will Mäy"), ("A3", "Åke Will"), ("7", "Seven")]
    frame = pd.DataFrame(people, columns=["athlete", "name"])
    theirs = Person("wm.may", "Willie", "athlete", "A2", email="wmay77@club.example")
    with store.kept_open():
        save_athletes(store, frame.assign(squad="Will's group"), "dora")
        add_person(store, theirs, "hash", by="dora")
        yield store


def note(store: Store, athlete: str, text: str, day: int = 1) -> None:
    line = f'{athlete},2026-03-0{day}T09:00,jump_height,1,40,0,"{text}"'
    import_efforts(store, table_of([line], f"{HEADER},note", f"{athlete}{day}.csv"), "dora")


def reason(store: Store, athlete: str, text: str) -> None:
    plan = PlanEntry(DAY, athlete, "jump_height", "best", 1, 30.0, 15.0, 12.0, text)
    save_choice(store, plan, "dora")


def found(store: Store, code: str = "A2") -> dict[str, Mention]:
    return {mention.text: mention for mention in mentions(store, code)}


def test_any_part_of_the_name_is_found_and_own_texts_are_not(store: Store) -> None:
    note(store, "A1", "will rest in MAY")
    note(store, "A2", "Will tired")
    note(store, "A3", "goodwill, maybe; wills", day=2)
    reason(store, "A1", "as willie")
    reason(store, "A3", "like wmay77")
    reason(store, "A2", "Will asked for it")
    texts = found(store)
    assert set(texts) == {"will rest in MAY", "as willie", "like wmay77", "Will's group"}
    assert texts["will rest in MAY"].words == ("may", "will")
    (place,) = texts["will rest in MAY"].places
    assert (place.table, place.column, place.rows) == ("session", "note", 1)
    assert place.athletes == ("A1",)
    (squad,) = texts["Will's group"].places
    assert (squad.table, squad.rows, squad.athletes) == ("athlete_squad", 2, ("7", "A3"))


def test_nothing_is_cleared_by_itself(store: Store) -> None:
    note(store, "A1", "will rest in May")
    reason(store, "A3", "May be")
    before = dump(store)
    erase_athlete(store, "A2", "dora")
    after = dump(store)
    for table in ("session", "plan"):
        assert after[table] == [row for row in before[table] if "A2" not in row]
    assert [row for row in after["athlete_squad"]] == [
        row for row in before["athlete_squad"] if row[0] != "A2"
    ]


def test_chosen_texts_are_cleared_everywhere_and_counted_in_the_trail(
    store: Store,
) -> None:
    note(store, "A1", "pulled by Will")
    effort = int(efforts(store, "jump_height", "A1")["effort_id"].iloc[0])
    exclude_effort(store, effort, "Will in the way", "dora")
    reason(store, "A3", "Will in the way")
    reason(store, "A1", "he will")
    texts = found(store)
    keys = [texts["Will in the way"].key, texts["pulled by Will"].key]
    assert {place.table for place in texts["Will in the way"].places} == {
        "effort",
        "effort_change",
        "plan",
    }
    revision = store.revision()
    token = erase_athlete(store, "A2", "dora", keys)
    rows = dump(store)
    said = "\n".join(str(cell) for table in rows.values() for row in table for cell in row)
    assert "in the way" not in said and "pulled" not in said and "he will" in said
    assert said.count(CLEARED) == 5  # note, effort, its change twice, plan
    assert efforts(store, "jump_height", "A1")["excluded"].tolist() == [CLEARED]
    assert check(store) == [] and store.revision() == revision + 1
    assert trail(store)["detail"].iloc[0] == f"{token}, texts cleared: 2"


def test_only_the_words_are_removed_from_names_and_settings(store: Store) -> None:
    reason(store, "A3", "x")
    lines = ["A1,2026-03-01T09:00,jump_height,1,40,0", "A9,2026-03-01T09:00,jump_height,1,40,may"]
    import_efforts(store, table_of(lines, HEADER, name="will_march.csv"), "dora")
    set_setting(store, "club_name", "May Club", "dora")
    set_setting(store, "backup_schedule", '{"folder": "/home/will"}', "dora")
    texts = found(store)
    shown = {"Will's group", "will_march.csv", "May Club", lines[1]}
    assert set(texts) == shown
    token = erase_athlete(store, "A2", "dora", [mention.key for mention in texts.values()])
    rows = dump(store)
    assert {row[1] for row in rows["athlete_squad"]} == {f"{token}'s group"}
    settings = dict(rows["setting"])
    assert settings["club_name"] == f"{token} Club"
    assert settings["backup_schedule"] == '{"folder": "/home/will"}'
    (batch,) = rows["import_batch"]
    assert f"{token}_march.csv" in batch
    imported = [row[4] for row in rows["audit"] if row[3] == "import efforts"]
    assert imported == [f"{token}_march.csv"]
    (aside,) = rows["set_aside_row"]
    assert ROW_GONE in aside and lines[1] not in aside
    assert check(store) == []


def test_a_numeric_code_is_looked_for_in_what_people_write(store: Store) -> None:
    reason(store, "A1", "7 is tired")
    set_setting(store, "club_name", "Club 7", "dora")
    reason(store, "7", "own")
    assert set(found(store, "7")) == {"7 is tired"}
    erase_athlete(store, "7", "dora", [found(store, "7")["7 is tired"].key])
    assert "7 is tired" not in str(dump(store))


def test_a_word_that_is_both_code_and_name_stays_in_other_texts(store: Store) -> None:
    """Lines of the trail have a place for codes; only there does the word mean the athlete."""
    frame = pd.DataFrame({"athlete": ["MAY"], "name": ["May"]})
    save_athletes(store, frame, "dora")
    add_person(store, Person("may", "May", "athlete", "MAY"), "hash", by="dora")
    reason(store, "MAY", "own")
    reason(store, "A1", "it may rain, and MAY is tired")
    set_setting(store, "club_name", "may", "dora")
    assert set(athlete_frames(store, "MAY")["audit"]["action"]) == {"add person", "save choice"}
    assert set(found(store, "MAY")) == {"it may rain, and MAY is tired", "may"}
    token = erase_athlete(store, "MAY", "dora")
    details = dict((row[3], row[4]) for row in dump(store)["audit"])
    assert details["save choice"] == "2026-03-03 A1"
    assert f"{DAY} {token}" in [row[4] for row in dump(store)["audit"]]
    assert f"{token} as athlete" in [row[4] for row in dump(store)["audit"]]
    assert "it may rain, and MAY is tired" in str(dump(store)["plan"])


def test_a_full_name_in_texts_of_others_is_always_removed_and_shown(store: Store) -> None:
    reason(store, "A1", "as will may said")
    assert "will may" in found(store)["as will may said"].words
    token = erase_athlete(store, "A2", "dora")
    assert f"as {token} said" in str(dump(store)["plan"])


def test_an_unknown_key_erases_nobody(store: Store) -> None:
    with pytest.raises(BadInput, match="No text that may mention the athlete has the key 12345678"):
        erase_athlete(store, "A2", "dora", ["12345678"])
    assert identity_of_code(store, "A2").name == "Will Mäy"


def identity_of_code(store: Store, code: str):
    with store.reading() as cursor:
        return identity_of(cursor, code)


def test_names_that_would_become_the_same_are_reported(store: Store) -> None:
    with store.writing("dora", "squads") as cursor:
        cursor.execute("INSERT INTO athlete_squad VALUES ('A3', 'WILL''s group')")
    keys = [mention.key for mention in mentions(store, "A2")]
    with pytest.raises(StoreError, match="two of its rows would become the same"):
        erase_athlete(store, "A2", "dora", keys)
    assert identity_of_code(store, "A2").name == "Will Mäy"


def test_cautions_of_fits_lose_the_name(store: Store, keep_a_fit: Callable[[str], None]) -> None:
    keep_a_fit("A2 was left out.")
    erase_athlete(store, "A2", "dora")
    (warnings,) = [row for row in dump(store)["fit"]]
    assert "A2" not in str(warnings) and "was left out." in str(warnings)


@pytest.fixture
def keep_a_fit(store: Store) -> Callable[[str], None]:
    def keep(warnings: str) -> None:
        with store.writing("dora", "keep fit", "jump_height") as cursor:
            columns = {
                name: kind
                for name, kind in cursor.execute(
                    "SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = 'fit' "
                    "AND NOT is_nullable AND column_default IS NULL"
                ).fetchall()
            }
            values = {"measure": "jump_height", "warnings": warnings} | {
                name: "x" if kind == "VARCHAR" else 1
                for name, kind in columns.items()
                if name not in ("measure", "warnings")
            }
            names = ", ".join(values)
            cursor.execute(
                f"INSERT INTO fit ({names}) VALUES ({', '.join('?' * len(values))})",
                list(values.values()),
            )

    return keep


def test_prose_is_among_the_texts_that_are_searched(store: Store) -> None:
    with store.reading() as cursor:
        assert set(text_columns(cursor)) >= PROSE
