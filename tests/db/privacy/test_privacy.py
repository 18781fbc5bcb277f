"""Handing over an athlete's data misses none of it; erasing it leaves none of it."""

from __future__ import annotations

import io
import re
import shutil
import stat
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.rows import efforts, observations
from db.errors import BadInput
from db.file.checks import check
from db.file.copies import finished_copies
from db.file.store import Store
from db.fits.kept_fits import Conclusions, keep_fit
from db.fits.results import latest_fit, responses
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person, get_person, open_web_session
from db.plans.lengths import PlanEntry, save_choice
from db.plans.outcomes import record_outcome
from db.privacy.erasing import erase_athlete
from db.privacy.held_data import (
    athlete_frames,
    athlete_zip,
    held,
    write_athlete_zip,
)
from db.privacy.identity import Identity, identity_of, text_columns
from db.roster.athletes import save_athletes
from tests.dashboard import artificial
from tests.db.conftest import dump, table_of

CODE, NAME, ACCOUNT = "QX-771", "Åsa Vintergren", "asa.vintergren"
EMAIL = "vg77@club.example"
HEADER = "athlete,started_at,measure,effort,value,volume_before,kind,context,note,pain"
NAMES = [text.lower() for text in (CODE, NAME, ACCOUNT, EMAIL)]


@pytest.fixture
def full(full_once: Path, tmp_path: Path) -> Iterator[Store]:
    """A store with an athlete who left traces everywhere possible."""
    store = Store(shutil.copyfile(full_once, tmp_path / "store.duckdb"))
    with store.kept_open():
        yield store


@pytest.fixture(scope="module")
def full_once(made_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("full") / "store.duckdb"
    store = Store(shutil.copyfile(made_once, path))
    with store.kept_open():
        _leave_traces(store)
    return path


def _leave_traces(store: Store) -> None:
    athletes = artificial.ATHLETES | {CODE: (NAME, "wing", "long", 30.0, 3)}
    rows = artificial.athlete_rows(athletes).assign(born="2001-05-31")
    save_athletes(store, rows, "dora")
    lines = [
        f"{code},2026-03-0{day}T09:00,jump_height,{effort},{40 + effort},{effort},routine,training,"
        f"{f'{NAME} tired' if code == CODE else ''},no"
        for code in (CODE, "A1", "A2")
        for day in (1, 2)
        for effort in (1, 2, 3)
    ]
    lines += [
        f"{CODE},2026-03-01T09:00,jump_height,9,900,9,routine,training,,no",
        f"{NAME},2026-03-01T09:00,jump_height,1,40,1,routine,training,,no",
        f"A9,2026-03-01T09:00,jump_height,1,40,1,routine,training,beside {NAME.upper()},no",
    ]
    table = table_of(lines, HEADER, name=f"jumps_{CODE}_march.csv")
    report = import_efforts(store, table, "dora")
    assert (report.stored, report.set_aside) == (18, 3)
    add_person(store, Person("dora", "Dora", "director"), "hash", by="test")
    theirs = Person(ACCOUNT, NAME, "athlete", CODE, email=EMAIL)
    add_person(store, theirs, "secret-hash", by="dora")
    open_web_session(store, ACCOUNT, "a" * 64, datetime.now(UTC) + timedelta(days=1))
    theirs = int(efforts(store, "jump_height", CODE)["effort_id"].iloc[0])
    correct_effort(store, theirs, 41.5, f"{NAME} said so", "dora")
    exclude_effort(
        store, int(efforts(store, "jump_height", "A1")["effort_id"].iloc[0]), f"{CODE}'s", "dora"
    )
    plan = PlanEntry(date(2026, 3, 3), CODE, "jump_height", "best", 1, 30.0, 15.0, 12.0, "calf")
    record_outcome(store, save_choice(store, plan, "dora"), 12.0, 44.0, "dora")
    other = PlanEntry(
        date(2026, 3, 3), "A1", "jump_height", "best", 1, 30.0, 15.0, 12.0, f"as {NAME}, {EMAIL}"
    )
    save_choice(store, other, "dora")
    peaks = observations(store, "jump_height").groupby("session_id", as_index=False)["value"].max()
    keep_fit(
        store,
        "dora",
        "jump_height",
        artificial.fit_facts(store.revision()),
        artificial.responses(athletes),
        artificial.kept_curves(athletes),
        peaks.rename(columns={"value": "peak_value"}),
        Conclusions(check=artificial.fit_check()),
    )
    assert check(store) == []


def texts(store: Store) -> str:
    """Every cell of every table as text, in lower case."""
    rows = [str(cell) for table in dump(store).values() for row in table for cell in row]
    return "\n".join(rows).lower()


def test_erasing_leaves_no_word_in_the_tables_and_no_byte_in_the_file(full: Store) -> None:
    before = texts(full)
    assert all(name in before for name in NAMES)
    token = erase_athlete(full, CODE, "dora")
    after = texts(full)
    assert [name for name in NAMES if name in after] == []
    assert "2001-05-31" in after  # when the other athletes were born
    with full.alone() as root:
        root.execute("CHECKPOINT")
    files = list(full.path.parent.iterdir())
    content = b"".join(path.read_bytes() for path in files if path.name != "store.duckdb.wal")
    for name in (CODE, NAME, ACCOUNT, EMAIL, NAME.upper(), "secret-hash", "tired"):
        assert name.encode() not in content
    assert token.encode() in full.path.read_bytes()
    assert [path.name for path in files] == ["store.duckdb"]
    assert stat.S_IMODE(full.path.stat().st_mode) == 0o600


def test_the_store_stays_sound_and_everybody_else_is_untouched(full: Store) -> None:
    others = efforts(full, "jump_height", "A2")
    before = responses(full, "jump_height").query("athlete != @CODE").reset_index(drop=True)
    revision = full.revision()
    erase_athlete(full, CODE, "dora")
    assert check(full) == []
    assert full.revision() == revision + 1
    pd.testing.assert_frame_equal(efforts(full, "jump_height", "A2"), others)
    pd.testing.assert_frame_equal(responses(full, "jump_height"), before)
    fit = latest_fit(full, "jump_height")
    assert fit is not None and fit.athletes == 4
    assert re.search(r"\nAn athlete whose efforts are part .* was erased on \d", fit.warnings)
    assert get_person(full, ACCOUNT) is None
    held_rows = dump(full)
    assert [row[5:] for row in held_rows["import_batch"]] == [(15, 12, 0, 3)]
    assert [row[1] for row in held_rows["set_aside_row"]] == [20, 21, 22]
    assert not held_rows["plan_outcome_change"]


def test_the_store_can_be_written_to_after_erasing(full: Store) -> None:
    erase_athlete(full, CODE, "dora")
    report = import_efforts(
        full, table_of(["A1,2026-04-01T09:00,jump_height,1,40,0"], name="new.csv"), "dora"
    )
    assert report.stored == 1 and check(full) == []
    with full.reading() as cursor:
        commented = cursor.execute(
            "SELECT count(*) FROM duckdb_tables() WHERE comment IS NULL"
        ).fetchone()
    assert commented == (0,)


def test_a_code_of_digits_is_not_looked_for_in_texts(closed_store: Store) -> None:
    save_athletes(closed_store, pd.DataFrame({"athlete": ["7", "A7"], "name": ["", ""]}), "dora")
    for code, reason in (("7", "7 days off"), ("A7", "7 days off")):
        plan = PlanEntry(date(2026, 3, 7), code, "jump_height", "best", 1, 7, 7, 7, reason)
        save_choice(closed_store, plan, "dora")
    token = erase_athlete(closed_store, "7", "dora")
    rows = dump(closed_store)
    assert [row[9] for row in rows["plan"]] == ["7 days off"]
    details = [row[4] for row in sorted(rows["audit"]) if row[3] == "save choice"]
    assert details == [f"2026-03-07 {token}", "2026-03-07 A7"]


def test_unknown_athletes_and_staff_are_not_erased(full: Store) -> None:
    before = dump(full)
    with pytest.raises(BadInput, match="There is no athlete with the code 'nobody'"):
        erase_athlete(full, "nobody", "dora")
    assert dump(full) == before
    add_person(full, Person("both", "Both", "coach", CODE), "hash", by="dora")
    with pytest.raises(BadInput, match="account 'both' is linked .* Nothing was erased"):
        erase_athlete(full, CODE, "dora")
    assert [path.name for path in full.path.parent.iterdir()] == ["store.duckdb"]


def test_the_rows_held_about_an_athlete_are_counted(full: Store) -> None:
    found = held(full, CODE)
    assert (found.name, found.accounts) == (NAME, (ACCOUNT,))
    expected = {
        "athlete": 1,
        "person": 1,
        "person_email": 1,
        "web_session": 1,
        "session": 2,
        "effort": 6,
        "effort_change": 1,
        "plan": 1,
        "plan_outcome_change": 1,
        "response": 1,
        "session_peak": 2,
        "set_aside_row": 3,
    }
    assert {table: found.rows[table] for table in expected} == expected


def test_copies_beside_the_store_are_listed(full: Store) -> None:
    copy = full.path.with_name("store.schema-2.20260101T000000.000000Z.duckdb")
    copy.touch()
    assert finished_copies(full) == [copy]


def test_the_zip_holds_every_row_and_a_readme_and_no_secret(full: Store) -> None:
    content = athlete_zip(full, CODE)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        files = {name: archive.read(name).decode() for name in archive.namelist()}
    readme = files.pop("README.txt")
    counts = held(full, CODE).rows | {"fit": 1, "import_batch": 1}
    assert set(files) == {f"{table}.csv" for table in counts}
    for table, count in counts.items():
        assert len(pd.read_csv(io.StringIO(files[f"{table}.csv"]))) == count
        assert f"{table}.csv ({count:,} row" in readme
    assert "session.csv (2 rows): One athlete, one measure, one start time." in readme
    assert "  value: Value in the unit of the measure." in readme
    everything = "".join(files.values())
    assert f"{NAME} tired" in everything and "41.5" in everything and "calf" in everything
    assert "secret-hash" not in everything and "a" * 64 not in everything
    assert not set(athlete_frames(full, CODE)["athlete"]["athlete"]) - {CODE}


def test_the_zip_is_private_and_never_overwrites_a_file(full: Store, tmp_path: Path) -> None:
    path = tmp_path / "theirs.zip"
    write_athlete_zip(full, CODE, path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with pytest.raises(BadInput, match="There is a file .*theirs.zip already"):
        write_athlete_zip(full, CODE, path)
    with pytest.raises(BadInput, match=r"theirs.csv does not end in \.zip"):
        write_athlete_zip(full, CODE, tmp_path / "theirs.csv")
    with pytest.raises(BadInput, match="cannot be written: No such file"):
        write_athlete_zip(full, CODE, tmp_path / "none" / "theirs.zip")


def test_every_text_column_is_searched_unless_it_never_names_anybody(full: Store) -> None:
    with full.reading() as cursor:
        searched = set(text_columns(cursor))
        assert identity_of(cursor, CODE) == Identity(CODE, NAME, (ACCOUNT,), (EMAIL,))
    assert {("audit", "detail"), ("session", "note"), ("plan", "reason")} <= searched
    assert ("set_aside_row", "athlete") in searched and ("session", "athlete") not in searched
