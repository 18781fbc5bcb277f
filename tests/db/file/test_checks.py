"""Plant the faults of a damaged file in a store without constraints, and check it."""

from __future__ import annotations

import hashlib
import shutil
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort
from db.efforts.live_efforts import add_effort, undo_effort
from db.efforts.live_tests import efforts_in, parts_in
from db.efforts.new_rounds import begin_live_test
from db.efforts.rows import efforts
from db.errors import StoreDamaged
from db.file.checks import PARENTS, RULES, check
from db.file.frames import insert
from db.file.store import Store
from db.imports.storing import import_efforts
from db.imports.undo import take_back_import
from db.people.accounts import Person, add_person, open_web_session
from db.plans.games import save_game
from db.plans.lengths import save_choice
from db.plans.outcomes import record_outcome
from tests.db.conftest import HEADER, dump, table_of
from tests.db.efforts.test_running_tests import LIVE_TEST
from tests.db.fits.test_results import keep
from tests.db.plans.test_games import GAME
from tests.db.plans.test_plans import PLAN

# The first row adds an effort and a fact (the note) to a session of an earlier import.
TAKEN_BACK = [
    "A1,2026-03-01T09:00,jump_height,3,42,2,windy",
    "A2,2026-03-05T09:00,jump_height,1,42,0,calm",
]


@pytest.fixture(scope="module")
def sound(made_once, tmp_path_factory) -> Store:
    """A store with rows in every table."""
    path = tmp_path_factory.mktemp("sound") / "store.duckdb"
    shutil.copyfile(made_once, path)
    store = Store(path)
    rows = [
        "A1,2026-03-01T09:00,jump_height,1,40,0",
        "A1,2026-03-01T09:00,jump_height,2,40,1",
        "A1,2026-03-01T09:00,jump_height,2,400,1",
    ]
    with store.reading():
        import_efforts(store, table_of(rows), "tester")
        number = int(efforts(store, "jump_height")["effort_id"].iloc[0])
        correct_effort(store, number, 41.0, "typed wrongly", "coach")
        import_efforts(store, table_of(TAKEN_BACK, HEADER + ",note"), "tester")
        take_back_import(store, 2, "tester", "wrong file")
        keep(store)
        record_outcome(store, save_choice(store, PLAN, "coach"), 6.0, 47.0, "coach")
        save_game(store, GAME, "coach")
        anna = Person("anna", "Anna", "athlete", "A1", email="anna@club.example")
        add_person(store, anna, "a hash", "coach")
        add_person(store, Person("carl", "Carl", "coach", sees_all=True), "a hash", "coach")
        open_web_session(store, "anna", "a" * 64, datetime(2026, 3, 1, tzinfo=UTC))
        tested = begin_live_test(store, LIVE_TEST, "coach")
        session = int(parts_in(store, tested)["session_id"].iloc[0])
        add_effort(store, session, 1, 40.0, 0, "coach")
        undo_effort(store, session, int(efforts_in(store, tested)["effort_id"].iloc[0]), "coach")
        with store.writing("coach", "what has no short way in") as cursor:
            cursor.execute(
                "INSERT INTO mapping (mapping, mapping_json, person) VALUES ('m', '', 'a')"
            )
            cursor.execute("INSERT INTO mapping_athlete VALUES ('m', 'Long One', 'A1')")
            cursor.execute(
                "INSERT INTO athlete_status VALUES (1, 'A1', 'out', '2026-03-02', '', 1, 'coach')"
            )
            cursor.execute("INSERT INTO lapsed_plan VALUES (1, 'A1')")
            cursor.execute("INSERT INTO outcome_manner VALUES (1, 'A1', false, 'late')")
            cursor.execute("INSERT INTO measure_protocol (measure) VALUES ('jump_height')")
            cursor.execute("INSERT INTO set_aside_correction VALUES (1, 4, 1, 2)")
            cursor.execute("INSERT INTO athlete_squad (athlete, squad) VALUES ('A1', 'first')")
            cursor.execute("INSERT INTO athlete_merge VALUES (1, 'A2', 'A1', true, now(), 'dora')")
            cursor.execute(
                "INSERT INTO invitation VALUES (repeat('c', 64), 'anna', 'dora', now(), "
                "now() + INTERVAL 1 DAY, NULL)"
            )
            cursor.execute("INSERT INTO merged_row VALUES (1, 'session', '1')")
            cursor.execute("INSERT INTO person_squad (person, squad) VALUES ('anna', 'first')")
            cursor.execute("INSERT INTO fit_learned (fit_id, learned_json) VALUES (1, '{}')")
            cursor.execute(
                "INSERT INTO trial VALUES (1, 'A1', 'jump_height', 10, 20, 2, 5, now(), NULL, 'a')"
            )
            cursor.execute("INSERT INTO trial_session VALUES (1, 1, true, 1), (1, 2, false, NULL)")
            cursor.execute(
                "INSERT INTO private_link VALUES (1, 'A1', repeat('b', 64), 'coach', now(), "
                "now() + INTERVAL 9 DAY, NULL)"
            )
            cursor.execute("INSERT INTO athlete_view VALUES ('A1', 'coach', '2026-03-02')")
            cursor.execute("INSERT INTO advice_base VALUES (1, 12, 9, 2, 17, 17.5, [0, 10])")
            cursor.execute("INSERT INTO account_constant VALUES (1, 'k', 'learned', 1, 0, 2)")
            cursor.execute("INSERT INTO level_effect VALUES (1, 'game', 1, 0, 2)")
            cursor.execute("INSERT INTO curve_draw VALUES (1, 'A1', 1, '\\x00'::BLOB)")
            cursor.execute(
                "INSERT INTO session_plan VALUES (1, 'Lower', '2026-03-02', 'A1', 'jump_height', "
                "'kg', 20, '20;10', 6, false, 0, '', now(), 'coach')"
            )
            cursor.execute(
                "INSERT INTO planned_exercise VALUES (1, 1, 'back_squat', 'strength', false, true, "
                "3, 5, 100, NULL, 90, 5)"
            )
            cursor.execute(
                "INSERT INTO lifted_set VALUES (1, 'A1', 'back_squat', '2026-03-02', 60, 0.9, "
                "'mean', NULL, false, now(), 'coach')"
            )
            cursor.execute(
                "INSERT INTO session_readiness VALUES (1, true, true, true, true, now(), 'coach')"
            )
            cursor.execute(
                "INSERT INTO next_test VALUES (1, 'A1', 'fade', 0, 0.2, NULL, 30, 12, 70)"
            )
            cursor.execute(
                "INSERT INTO best_volume_change VALUES (1, 'A1', 0.9, true, 1, 1, 1, 1, 5, 4, 6, "
                "9, 8, 10)"
            )
            cursor.execute(
                "INSERT INTO squad_worth VALUES (1, 'standard', 10, 1, 0, 2, 2, 1, 0, 2)"
            )
            cursor.execute("INSERT INTO data_check VALUES (1, 4)")
            cursor.execute(
                "INSERT INTO finding VALUES (1, 1, 1, 'swap', 'A1', 'A2', -5, 2, 3, 0.01, NULL, "
                "false, repeat('0', 64))"
            )
            cursor.execute("INSERT INTO finding_effort VALUES (1, 1, 1, 40, 41)")
            cursor.execute(
                "INSERT INTO finding_decision VALUES (1, 1, now(), 'anna', 'accepted', 'right')"
            )
            cursor.execute("INSERT INTO decision_change VALUES (1, 1, 1)")
    return store


@pytest.fixture(scope="module")
def unguarded_once(sound, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("unguarded") / "store.duckdb"
    with sound.reading() as cursor:
        tables = cursor.execute("SELECT table_name FROM duckdb_tables()").fetchall()
        (view,) = cursor.execute(
            "SELECT sql FROM duckdb_views() WHERE view_name = 'effort_detail'"
        ).fetchone()
    with duckdb.connect(path) as copy:
        copy.execute(f"ATTACH '{sound.path}' AS guarded (READ_ONLY)")
        for (table,) in tables:
            copy.execute(f'CREATE TABLE "{table}" AS FROM guarded."{table}"')
        copy.execute("DETACH guarded")
        copy.execute(view)
    return path


@pytest.fixture
def unguarded(unguarded_once, tmp_path) -> Store:
    """The same rows in a store without keys and checks."""
    path = tmp_path / "store.duckdb"
    shutil.copyfile(unguarded_once, path)
    return Store(path)


def broken_by(store: Store, statement: str) -> list[str]:
    with store.reading() as _:
        with store.writing("tester", "break") as cursor:
            cursor.execute(statement)
        return check(store)


def test_a_sound_store_has_rows_in_every_table_and_no_problems(sound, unguarded):
    assert [name for name, rows in dump(sound).items() if not rows] == []
    assert check(sound) == []
    assert check(unguarded) == []


def test_rows_without_parents_are_found(unguarded):
    # Every column gets a different key: with a shared one, a row could be another's parent.
    lost = {(table, column): 900 + place for place, (table, column, *_) in enumerate(PARENTS)}
    with unguarded.writing("tester", "break") as cursor:
        for (table, column), key in lost.items():
            cursor.execute(f"UPDATE {table} SET {column} = {key}")
    problems = check(unguarded)
    for table, column, parent, _ in PARENTS:
        key = lost[table, column]
        assert f"{table} refers to 1 rows of {parent} that do not exist: {key}." in problems, column


# One statement that breaks each rule, in the order of `RULES`.
BREAKS = [
    "UPDATE effort SET value = 'nan'::DOUBLE WHERE effort = 2",
    "UPDATE effort SET volume = -1",
    "UPDATE effort SET effort = 1",
    "INSERT INTO session FROM session",
    "INSERT INTO session SELECT * REPLACE (77 AS session_id, 'sprint_10m' AS measure) FROM session",
    "UPDATE import_batch SET rows_read = 9",
    "UPDATE effort SET batch_id = NULL WHERE effort = 2",
    "DELETE FROM taken_back_effort WHERE effort = 3",
    "UPDATE taken_back_effort SET effort_id = 1 WHERE effort = 3",
    "DELETE FROM set_aside_row",
    "UPDATE effort SET excluded = 'wind' WHERE effort = 1",
    "DELETE FROM response",
    "DELETE FROM squad_curve_point",
    "DELETE FROM curve_point WHERE athlete = 'A2'",
    "UPDATE response SET gain_pct_high = gain_pct - 1 WHERE athlete = 'A1'",
    "UPDATE session_place SET sessions = 0",
    "UPDATE effort SET revision = 999",
    "DELETE FROM audit WHERE revision = 2",
]


@pytest.mark.parametrize(("rule", "statement"), list(zip(RULES, BREAKS, strict=True)))
def test_every_broken_rule_is_found(unguarded, rule, statement):
    words = rule[0].removeprefix("{} ")
    (problem,) = [found for found in broken_by(unguarded, statement) if words in found]
    assert problem[0] in "123456789"


def test_a_damaged_block_is_found(sound, unguarded):
    # Text that no rule reads, and enough of it to fill whole blocks.
    size = unguarded.path.stat().st_size
    keys = [hashlib.sha512(str(number).encode()).hexdigest() for number in range(5000)]
    with unguarded.writing("tester", "fill") as cursor:
        insert(cursor, "setting", pd.DataFrame({"key": keys, "value": keys}))
    content = bytearray(unguarded.path.read_bytes())
    content[(size + len(content)) // 2] ^= 0xFF
    unguarded.path.write_bytes(content)
    with pytest.raises(StoreDamaged, match="cannot be read as a store"):
        check(unguarded)
