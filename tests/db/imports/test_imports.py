from __future__ import annotations

from datetime import datetime, timedelta

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort, exclude_effort, include_effort
from db.efforts.rows import efforts, observations
from db.errors import BadInput
from db.file.checks import check
from db.imports import parsed_rows
from db.imports.parsed_rows import parse_rows
from db.imports.past_imports import import_batches, set_aside_rows
from db.imports.storing import check_rows, import_efforts
from db.imports.unusable_files import UnusableFile
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, save_measure
from db.tables.text_tables import RawTable
from tests.db.conftest import HEADER, dump, table_of

SESSION = "A1,2026-03-01T09:00,jump_height"
FACTS = (
    "kind,context,general_minutes,rest_minutes,effort_rest_seconds,ambient_c,days_since_game,load_kg,"
    "planned_volume,freshness,joints,mobility,pain,note"
)


def faults(store) -> list[tuple[int, str, str]]:
    return list(
        set_aside_rows(store)[["line", "column", "reason"]].itertuples(index=False, name=None)
    )


def test_rows_come_back_as_they_were_written(store, bring):
    report = bring(
        f"{SESSION},1,40.5,0,fade,test,5,2.5,30,18,3,20,12,7,8,9.5,yes,slept badly,",
        f"{SESSION},2,41.25,,,,,,,,,,,,,,,,slipped",
        header=f"{HEADER},{FACTS},excluded",
    )
    assert (report.rows_read, report.stored, report.known, report.set_aside) == (2, 2, 0, 0)
    assert (report.sessions, report.new_athletes, report.ignored_columns) == (1, (), ())
    first, second = efforts(store, "jump_height").to_dict("records")
    assert first["started_at"] == pd.Timestamp("2026-03-01T09:00")
    stated = "fade test 5.0 2.5 30.0 18.0 3.0 20.0 12.0 7.0 8.0 9.5".split()
    assert [str(first[fact]) for fact in FACTS.split(",")[:12]] == stated
    assert (first["pain"], first["note"], first["volume"]) == (True, "slept badly", 0.0)
    assert (second["value"], second["volume"], second["excluded"]) == (41.25, 1.0, "slipped")
    assert second["note"] == "slept badly"
    assert observations(store, "jump_height")["value"].tolist() == [40.5]


FAULTY_ROWS = [
    ("A9,2026-03-01T09:00,jump_height,1,40,0", "athlete", "there is no athlete 'A9'; add"),
    ("a1,2026-03-01T09:00,jump_height,1,40,0", "athlete", "no athlete 'a1', but there is 'A1'"),
    (",2026-03-01T09:00,jump_height,1,40,0", "athlete", "the cell is empty and is needed"),
    ("A1,,jump_height,1,40,0", "started_at", "the cell is empty"),
    ("A1,01.03.2026 09:00,jump_height,1,40,0", "started_at", "is not a time; write it as"),
    ("A1,2026-02-30T09:00,jump_height,1,40,0", "started_at", "is not a time"),
    ("A1,2026-03-01,jump_height,1,40,0", "started_at", "has no time of day"),
    ("A1,1926-03-01T09:00,jump_height,1,40,0", "started_at", "is before 1950"),
    ("A1,2226-03-01T09:00,jump_height,1,40,0", "started_at", "is in the future"),
    ("A1,2026-03-01T09:00,jump,1,40,0", "measure", "no measure 'jump'; the measures are "),
    ("A1,2026-03-01T09:00,,1,40,0", "measure", "the cell is empty"),
    (f"{SESSION},,40,0", "effort", "the cell is empty"),
    (f"{SESSION},0,40,0", "effort", "0 is outside 1 to 10000"),
    (f"{SESSION},1.5,40,0", "effort", "1.5 is not a whole number"),
    (f"{SESSION},first,40,0", "effort", "'first' is not a number"),
    (f"{SESSION},1,,0", "value", "the cell is empty"),
    (f"{SESSION},1,forty,0", "value", "'forty' is not a number"),
    (f"{SESSION},1,nan,0", "value", "'nan' is not a number"),
    (f"{SESSION},1,inf,0", "value", "'inf' is not a number"),
    (f"{SESSION},1,1e999,0", "value", "too large for a number"),
    (f"{SESSION},1,1_0,0", "value", "'1_0' is not a number"),
    (f"{SESSION},1,-40,0", "value", "-40 is not above 0"),
    (f"{SESSION},1,4.9,0", "value", "4.9 is outside 5 to 150 cm, the limits of jump_height"),
    (f"{SESSION},1,151,0", "value", "151 is outside 5 to 150 cm"),
    (f"{SESSION},1,40,", "volume_before", "a routine session needs the volume"),
    (f"{SESSION},1,40,-1", "volume_before", "-1 is outside 0 to 10000"),
    (f"{SESSION},1,40,nan", "volume_before", "'nan' is not a number"),
    (f"{SESSION},1", "row", "the row has 4 cells and the header 6"),
    (f"{SESSION},1,40,0,9", "row", "the row has 7 cells and the header 6"),
]
FAULTY_FACTS = [
    ("kind", "hard", "'hard' is not allowed; the words are routine, fade"),
    ("context", "home", "the words are training, game, test, lifting"),
    ("freshness", "11", "11 is outside 0 to 10"),
    ("joints", "-1", "-1 is outside 0 to 10"),
    ("mobility", "good", "'good' is not a number"),
    ("pain", "some", "'some' is not allowed; write yes or no"),
    ("ambient_c", "99", "99 is outside -50 to 60"),
    ("rest_minutes", "-2", "-2 is outside 0 to 1440"),
    ("effort_rest_seconds", "3601", "3601 is outside 0 to 3600"),
    ("note", "x" * 2001, "the text has 2001 characters; 2000 are allowed"),
]


def test_rows_that_are_set_aside(store, bring):
    rows = [row for row, _, _ in FAULTY_ROWS]
    report = bring(f"{SESSION},7,40,0", *rows)
    assert (report.stored, report.set_aside) == (1, len(rows))
    assert set_aside_rows(store)["row_text"].tolist() == rows
    for line, (found, (row, column, reason)) in enumerate(
        zip(faults(store), FAULTY_ROWS, strict=True), start=3
    ):
        assert found[:2] == (line, column), row
        assert reason in found[2], row
    assert check(store) == []


def test_facts_that_are_set_aside(store, bring):
    columns = FACTS.split(",")
    rows = [
        ",".join(
            [f"{SESSION},{effort},40,0", *(cell if name == column else "" for name in columns)]
        )
        for effort, (column, cell, _) in enumerate(FAULTY_FACTS, start=1)
    ]
    bring(*rows, header=f"{HEADER},{FACTS}")
    for found, (column, cell, reason) in zip(faults(store), FAULTY_FACTS, strict=True):
        assert found[1] == column, cell
        assert reason in found[2], cell


def test_a_start_a_little_ahead_of_the_clock_is_stored(store, bring):
    soon = datetime.now() + timedelta(hours=20)
    late = datetime.now() + timedelta(hours=30)
    report = bring(*(f"A1,{at:%Y-%m-%dT%H:%M},jump_height,1,40,0" for at in (soon, late)))
    assert (report.stored, report.set_aside) == (1, 1)


def test_the_wall_time_is_kept_as_written_with_its_offset(store, bring):
    bring(
        "A1,2026-03-01T09:00+02:00,jump_height,1,40,0",
        "A1,2026-03-01 09:00,jump_height,2,40,1",
        "A1,2026-03-01T09:00:00.0+02,jump_height,3,40,2",
        "A2,2026-03-01T09:00Z,jump_height,1,40,0",
        "A2,20260301T1000-0330,jump_height,1,40,0",
    )
    with store.reading() as cursor:
        found = cursor.execute(
            "SELECT athlete, started_at, utc_offset_minutes FROM session ORDER BY ALL"
        ).fetchall()
    nine, ten = datetime(2026, 3, 1, 9), datetime(2026, 3, 1, 10)
    assert found == [("A1", nine, 120), ("A2", nine, 0), ("A2", ten, -210)]
    assert faults(store) == []


def test_unknown_athletes_are_added_when_allowed_and_only_for_stored_rows(store, bring):
    report = bring(
        "A9,2026-03-01T09:00,jump_height,1,40,0",
        "A8,2026-03-01T09:00,jump_height,1,400,0",
        "=A7,2026-03-01T09:00,jump_height,1,40,0",
        "A9,2026-03-01T09:00,jump_height,2,40,1",
        add_athletes=True,
    )
    assert (report.stored, report.set_aside, report.new_athletes) == (2, 2, ("A9",))
    assert "'=A7' cannot be an athlete code" in faults(store)[1][2]
    athletes = list_athletes(store).set_index("athlete")
    assert athletes.loc["A9", ["name", "active"]].tolist() == ["A9", True]
    assert "A8" not in athletes.index


def test_facts_must_agree_within_a_file(store, bring):
    report = bring(
        f"{SESSION},1,40,0,5,yes",
        f"{SESSION},2,40,1,7,yes",
        f"{SESSION},3,40,2,,no",
        f"{SESSION},4,40,3,5.0,",
        header=f"{HEADER},rest_minutes,pain",
    )
    assert (report.stored, report.set_aside) == (2, 2)
    assert [(line, column) for line, column, _ in faults(store)] == [
        (3, "rest_minutes"),
        (4, "pain"),
    ]
    assert faults(store)[0][2].startswith("rest_minutes is 7 here and 5 for this session before")
    assert faults(store)[1][2].startswith("pain is no here and yes for this session before")
    assert set(efforts(store, "jump_height")["rest_minutes"]) == {5.0}


def test_facts_must_agree_with_the_store(store, bring):
    bring(f"{SESSION},1,40,0,5,a note", header=f"{HEADER},rest_minutes,note")
    report = bring(
        f"{SESSION},2,40,1,6,a note",
        f"{SESSION},3,40,2,,other",
        f"{SESSION},4,40,3,5,",
        header=f"{HEADER},rest_minutes,note",
    )
    assert (report.stored, report.set_aside) == (1, 2)
    assert [column for _, column, _ in faults(store)] == ["rest_minutes", "note"]


def test_a_fact_that_the_store_lacks_is_filled_in_and_counts_as_newer_data(store, bring):
    bring(f"{SESSION},1,40,0", f"{SESSION},2,41,1")
    before = store.revision()
    report = bring(f"{SESSION},1,40,0,18", header=f"{HEADER},ambient_c")
    assert (report.stored, report.known, report.filled_sessions) == (0, 1, 1)
    assert efforts(store, "jump_height")["ambient_c"].tolist() == [18.0, 18.0]
    with store.reading() as cursor:
        assert cursor.execute("SELECT min(revision) FROM effort").fetchone() == (before + 1,)
    report = bring(f"{SESSION},1,40,0,19", header=f"{HEADER},ambient_c")
    assert (report.known, report.set_aside, report.filled_sessions) == (0, 1, 0)


def test_rows_set_aside_fill_no_facts(store, bring):
    bring(f"{SESSION},1,40,0")
    report = bring(f"{SESSION},1,44,0,18", header=f"{HEADER},ambient_c")
    assert (report.set_aside, report.filled_sessions) == (1, 0)
    assert efforts(store, "jump_height")["ambient_c"].isna().all()


def test_a_stored_row_is_known_with_the_same_value_and_set_aside_with_another(store, bring):
    bring(f"{SESSION},1,40.5,0", f"{SESSION},2,41,1")
    report = bring(f"{SESSION},1,40.50,0", f"{SESSION},2,42,1", f"{SESSION},3,43,2")
    assert (report.stored, report.known, report.set_aside) == (1, 1, 1)
    ((line, column, reason),) = faults(store)
    assert (line, column) == (3, "value")
    assert reason.startswith("42 differs from 41, which is stored for this effort")


def test_rows_doubled_within_a_file(store, bring):
    report = bring(
        f"{SESSION},1,40,0,",
        f"{SESSION},1,40,0,",
        f"{SESSION},1,41,0,",
        f"{SESSION},1,40,5,",
        f"{SESSION},1,40,0,slipped",
        f"{SESSION},2,40,0,",
        header=f"{HEADER},excluded",
    )
    assert (report.stored, report.known, report.set_aside) == (2, 1, 3)
    assert [(line, column) for line, column, _ in faults(store)] == [
        (4, "value"),
        (5, "volume_before"),
        (6, "excluded"),
    ]
    assert "41 differs from 40 on line 2, which has the same effort" in faults(store)[0][2]


def test_a_faulty_row_does_not_stand_in_the_way_of_a_good_one(store, bring):
    report = bring(f"{SESSION},1,400,0", f"{SESSION},1,40,0")
    assert (report.stored, report.known, report.set_aside) == (1, 0, 1)
    assert efforts(store, "jump_height")["value"].tolist() == [40.0]


def test_another_volume_or_a_new_exclusion_of_a_stored_effort_is_set_aside(store, bring):
    header = f"{HEADER},excluded"
    bring(f"{SESSION},1,40,0,", f"{SESSION},2,40,1,slipped", header=header)
    report = bring(
        f"{SESSION},1,40,3,",
        f"{SESSION},1,40,0,slipped",
        f"{SESSION},2,40,1,other words",
        f"{SESSION},2,40,1,",
        header=header,
    )
    assert (report.known, report.set_aside) == (2, 2)
    assert [column for _, column, _ in faults(store)] == ["volume_before", "excluded"]


def test_in_a_fade_test_the_volume_is_the_number_of_efforts_before(store, bring):
    report = bring(
        f"{SESSION},1,40,,fade",
        f"{SESSION},2,40,5,fade",
        f"{SESSION},3,40,,",
        "A2,2026-03-01T09:00,jump_height,3,40,,",
        header=f"{HEADER},kind",
    )
    assert (report.stored, report.set_aside) == (3, 1)
    assert efforts(store, "jump_height")["volume"].tolist() == [0.0, 5.0, 2.0]
    report = bring(f"{SESSION},4,40,", header=HEADER)
    assert report.stored == 1
    report = bring(f"{SESSION},5,40,4,routine", header=f"{HEADER},kind")
    assert faults(store)[0][1] == "kind"


def test_the_same_file_again_changes_nothing(store):
    table = table_of(
        [
            f"{SESSION},1,40,0",
            f"{SESSION},1,40,0",
            f"{SESSION},1,41,0",
            "A9,2026-03-01T09:00,jump_height,1,40,0",
        ]
    )
    first = import_efforts(store, table, "tester")
    before = dump(store)
    again = import_efforts(store, table, "somebody else")
    assert dump(store) == before
    assert (first.stored, first.known, first.set_aside) == (1, 1, 2)
    assert (again.stored, again.known, again.set_aside) == (0, 2, 2)
    assert again.rows_read == again.stored + again.known + again.set_aside
    assert again.batch_id == first.batch_id
    assert len(set_aside_rows(store)) == 2


def test_the_same_file_again_stores_rows_that_can_be_stored_by_now(store):
    table = table_of(
        [f"{SESSION},1,40,0", "A9,2026-03-01T09:00,jump_height,1,40,0", f"{SESSION},2,x,1"]
    )
    first = import_efforts(store, table, "tester")
    again = import_efforts(store, table, "tester", add_athletes=True)
    assert (again.stored, again.known, again.set_aside) == (1, 1, 1)
    assert again.batch_id != first.batch_id
    assert set_aside_rows(store)[["batch_id", "line"]].values.tolist() == [[again.batch_id, 4]]
    assert set_aside_rows(store, first.batch_id)["line"].tolist() == [3, 4]
    assert check(store) == []


def test_a_row_that_has_become_known_is_no_longer_listed_as_set_aside(store, bring):
    bring(f"{SESSION},1,40,0")
    table = table_of([f"{SESSION},1,44,0", f"{SESSION},2,41,1"], name="later.csv")
    assert import_efforts(store, table, "tester").set_aside == 1
    number = int(efforts(store, "jump_height")["effort_id"].iloc[0])
    correct_effort(store, number, 44.0, "typed wrongly", "coach")
    again = import_efforts(store, table, "tester")
    assert (again.stored, again.known, again.set_aside) == (0, 2, 0)
    assert set_aside_rows(store).empty


def test_a_corrected_effort_is_known_by_its_first_value_and_by_its_new_one(store):
    table = table_of([f"{SESSION},1,40,0", f"{SESSION},2,41,1"])
    import_efforts(store, table, "tester")
    number = int(efforts(store, "jump_height")["effort_id"].iloc[0])
    correct_effort(store, number, 44.0, "typed wrongly", "coach")
    correct_effort(store, number, 45.0, "typed wrongly again", "coach")
    before = dump(store)
    again = import_efforts(store, table, "tester")
    assert (again.known, again.set_aside) == (2, 0)
    assert dump(store) == before
    other = table_of([f"{SESSION},1,45,0", f"{SESSION},1,46,0", f"{SESSION},1,40,0"], name="b.csv")
    report = import_efforts(store, other, "tester")
    assert (report.known, report.set_aside) == (2, 1)
    assert efforts(store, "jump_height")["value"].tolist() == [45.0, 41.0]


def test_importing_again_keeps_exclusions_that_were_made_or_undone_here(store):
    table = table_of(
        [f"{SESSION},1,40,0,slipped", f"{SESSION},2,41,1,"], header=f"{HEADER},excluded"
    )
    import_efforts(store, table, "tester")
    one, two = efforts(store, "jump_height")["effort_id"].tolist()
    include_effort(store, one, "it was fine", "coach")
    exclude_effort(store, two, "wind", "coach")
    again = import_efforts(store, table, "tester")
    assert (again.known, again.set_aside) == (2, 0)
    assert observations(store, "jump_height")["effort"].tolist() == [1]


def test_a_check_says_what_the_import_then_does_and_stores_nothing(store):
    table = table_of(
        [
            f"{SESSION},1,40,0,what",
            f"{SESSION},1,40,0,what",
            "A9,2026-03-01T09:00,jump_height,1,40,0,what",
            f"{SESSION},2,x,0,what",
        ],
        header=f"{HEADER},colour",
    )
    before = dump(store)
    checked = check_rows(store, table, add_athletes=True)
    assert dump(store) == before
    report = import_efforts(store, table, "tester", add_athletes=True)
    assert checked.rows_read == report.rows_read == 4
    assert (len(checked.new), checked.known) == (report.stored, report.known) == (2, 1)
    assert checked.new_athletes == report.new_athletes == ("A9",)
    assert checked.ignored_columns == report.ignored_columns == ("colour",)
    stored = set_aside_rows(store)[list(checked.set_aside.columns)]
    assert stored.values.tolist() == checked.set_aside.values.tolist()


def test_the_list_of_imports(store, bring):
    bring(f"{SESSION},1,40,0", "A9,2026-03-01T09:00,jump_height,1,40,0")
    bring(f"{SESSION},1,40,0")
    batches = import_batches(store)
    columns = ["file", "person", "rows_read", "stored", "known", "set_aside"]
    assert batches[columns].values.tolist() == [
        ["rows.csv", "tester", 1, 0, 1, 0],
        ["rows.csv", "tester", 2, 1, 0, 1],
    ]
    aside = set_aside_rows(store).iloc[0]
    assert (
        list(aside.index)
        == (
            "batch_id file line athlete started_at measure effort value column reason row_text at"
        ).split()
    )
    assert (aside["file"], aside["line"], aside["value"]) == ("rows.csv", 3, "40")


def test_a_measure_of_our_own_is_imported_once_it_is_saved(store, bring):
    row = "A1,2026-03-01T09:00,twitch_rate,1,342.82,8"
    assert bring(row).set_aside == 1
    save_measure(store, Measure("twitch_rate", "Twitch", "mm/s", "higher", "squats"), "tester")
    assert bring(row).stored == 1
    assert efforts(store, "twitch_rate")["value"].tolist() == [342.82]


def test_progress_runs_from_none_to_all(store):
    told: list[tuple[float, str]] = []
    table = table_of([f"{SESSION},1,40,0"])
    import_efforts(store, table, "tester", progress=lambda *step: told.append(step))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert all(what for _, what in told)


def test_a_hand_made_table_without_a_needed_column_is_refused():
    table = RawTable(pd.DataFrame({"athlete": ["A1"]}, dtype="str"), "x", "0" * 64)
    with pytest.raises(BadInput, match="lacks the column started_at"):
        parse_rows(table)


def test_a_text_that_an_export_made_harmless_is_read_as_it_was(store, bring):
    bring(f"{SESSION},1,40,0,'=SUM(A1)", header=f"{HEADER},note")
    bring(f"{SESSION},1,40,0,=SUM(A1)", header=f"{HEADER},note")
    assert efforts(store, "jump_height")["note"].tolist() == ["=SUM(A1)"]
    assert faults(store) == []


def test_faults_of_all_columns_count_together_towards_the_limit(bring, monkeypatch):
    monkeypatch.setattr(parsed_rows, "MOST_SET_ASIDE", 3)
    values = [f"A1,2026-03-01T09:0{n},jump_height,1,high,0" for n in range(2)]
    efforts = [f"A1,2026-03-02T09:0{n},jump_height,first,40,0" for n in range(2)]
    assert bring(*values, efforts[0]).set_aside == 3
    with pytest.raises(UnusableFile, match="More than 3 rows"):
        bring(*values, *efforts)
