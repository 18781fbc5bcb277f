"""Any file on the page of imports: sentences, questions, rows side by side, remembered readings."""

from __future__ import annotations

from datetime import time
from typing import Any

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from db.efforts.rows import efforts
from db.file.checks import check
from db.file.store import Store
from db.imports.kept_mappings import get_mapping, list_mappings
from db.imports.past_imports import import_batches
from db.people.accounts import set_role
from db.roster.athletes import list_athletes
from tests.dashboard.conftest import SignIn, told

INCHES = b"""Player,Date,Jump (in),Rep#
A1,03/13/2025,15.5,1
A1,03/13/2025,15.75,2
A2,03/27/2025,16.0,1
"""
PAGE = "import_efforts"


def upload(application: AppTest, content: bytes, name: str = "inches.csv") -> AppTest:
    application.file_uploader[0].upload(name, content)
    return application.run()


def asked(application: AppTest, kind: str, label: str) -> Any:
    return next(each for each in application.get(kind) if each.label.startswith(label))


def answer(application: AppTest) -> None:
    asked(application, "radio", "What kind of sessions").set_value("fade").run()
    asked(application, "time_input", "At what time of day").set_value(time(9, 0)).run()


def store(application: AppTest) -> None:
    application.button(key="store_efforts").click().run()


def test_a_file_with_other_columns_is_read_shown_and_saved(
    filled_store: Store, sign_in: SignIn
) -> None:
    before = len(efforts(filled_store, "jump_height"))
    application = upload(sign_in(filled_store, "carl", PAGE), INCHES)
    assert "`Jump (in)` is jump height in inches → cm." in told(application)
    assert "`Date` is the day, written month first." in told(application)
    assert "Answer the questions above to see the rows" in told(application)
    answer(application)
    assert "3 rows read. 3 to save, 0 known already, 0 to set aside." in told(application)
    in_file, to_save = application.dataframe[0].value, application.dataframe[1].value
    assert in_file["Jump (in)"].tolist() == ["15.5", "15.75", "16.0"]
    assert to_save["value"].round(3).tolist() == [39.37, 40.005, 40.64]
    store(application)
    assert "3 saved, 0 known already, 0 set aside, in 2 sessions." in told(application)
    assert len(efforts(filled_store, "jump_height")) == before + 3
    assert check(filled_store) == []


def test_the_next_file_with_the_same_header_is_read_without_questions(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = upload(sign_in(filled_store, "carl", PAGE), INCHES)
    answer(application)
    store(application)
    assert list_mappings(filled_store) == ["inches"]
    assert get_mapping(filled_store, "inches").clock == "09:00"
    upload(application, INCHES.replace(b"13/2025", b"14/2025"), "april.csv")
    assert "Read as **inches** was" in told(application)
    assert not application.radio and not application.time_input
    store(application)
    assert "2 saved, 1 known already, 0 set aside" in told(application)


def test_an_answer_changes_a_remembered_reading(filled_store: Store, sign_in: SignIn) -> None:
    application = upload(sign_in(filled_store, "carl", PAGE), INCHES)
    answer(application)
    store(application)
    upload(application, INCHES.replace(b"13/2025", b"14/2025"), "april.csv")
    application.selectbox(key=column_key(application, "rep#")).set_value("not read").run()
    assert "`Rep#` is not read." in told(application)
    assert "3 rows read. 2 to save, 1 known already" in told(application)
    store(application)
    assert list_mappings(filled_store) == ["inches"]
    assert get_mapping(filled_store, "inches").counted


def test_many_columns_are_told_in_few_sentences(filled_store: Store, sign_in: SignIn) -> None:
    trials = ",".join(f"Jump {number} (cm)" for number in range(1, 21))
    values = ",".join(["38.4"] * 20)
    content = f"Player,Date,{trials},Age,Shoe\nA1,2025-03-13,{values},22,43\n".encode()
    application = upload(sign_in(filled_store, "carl", PAGE), content)
    said = told(application)
    assert "`Jump 1 (cm)` is jump height in cm, effort 1, and so on to `Jump 20 (cm)`." in said
    assert "`Jump 2 (cm)`" not in said
    assert "`Age` and `Shoe` are not read." in said


def column_key(application: AppTest, column: str) -> str:
    return next(
        str(each.key)
        for each in application.selectbox
        if str(each.key).endswith(f"column:{column}")
    )


def test_unknown_names_are_asked_about_and_added(empty_store: Store, sign_in: SignIn) -> None:
    content = INCHES.replace(b"A1", b'"Berg, Anna"').replace(b"A2", b'"Lind, Bo"')
    application = upload(sign_in(empty_store, "dora", PAGE), content)
    answer(application)
    asked(application, "radio", "We don't know 2 of the names").set_value("add").run()
    store(application)
    assert list_athletes(empty_store)["name"].tolist() == ["Anna Berg", "Bo Lind"]
    assert efforts(empty_store, "jump_height")["athlete"].nunique() == 2


def test_a_coach_of_some_athletes_adds_nobody(filled_store: Store, sign_in: SignIn) -> None:
    with filled_store.writing("test", "put in a squad") as cursor:
        cursor.execute("INSERT INTO athlete_squad (athlete, squad) VALUES ('A1', 'first')")
    set_role(filled_store, "carl", "coach", by="dora", squads=("first",))
    application = upload(sign_in(filled_store, "carl", PAGE), INCHES)
    answer(application)
    choices = asked(application, "radio", "Who is A2?").options
    assert len(choices) == 2, "the athlete in sight, and nobody"
    asked(application, "radio", "Who is A2?").set_value("set aside").run()
    assert "2 to save, 0 known already, 1 to set aside" in told(application)


def test_two_files_are_saved_at_one_click_once_no_question_is_open(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl", PAGE)
    ours = b"athlete,started_at,measure,effort,value,volume_before\n"
    ours += b"A1,2026-05-01T10:00,jump_height,1,40.5,15\n"
    application.file_uploader[0].upload("ours.csv", ours)
    upload(application, INCHES)
    assert application.button(key="store_efforts").disabled
    assert "1 table of 2 still has an open question" in told(application)
    answer(application)
    assert not application.button(key="store_efforts").disabled
    store(application)
    assert import_batches(filled_store)["file"].tolist()[:2] == ["inches.csv (inches)", "ours.csv"]


def test_cells_pasted_or_typed_are_read_as_a_file_is(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", PAGE)
    asked(application, "segmented_control", "Rows from").set_value("Pasted cells").run()
    application.text_area[0].set_value(INCHES.decode().replace(",", "\t")).run()
    answer(application)
    assert "3 rows read. 3 to save" in told(application)
    asked(application, "segmented_control", "Rows from").set_value("A table to fill in").run()
    [editor] = [each for each in application.data_editor if str(each.key).endswith("typed")]
    lines = [line.split(",") for line in INCHES.decode().splitlines()]
    edits = {row: dict(zip("ABCD", cells, strict=True)) for row, cells in enumerate(lines)}
    application.session_state[str(editor.key)] = {
        "edited_rows": edits,
        "added_rows": [],
        "deleted_rows": [],
    }
    application.run()
    answer(application)
    assert "typed cells.tsv" in told(application)
    store(application)
    assert "3 saved, 0 known already" in told(application)


@pytest.mark.parametrize("name", ["totals.csv", "totals.xlsx"])
def test_lines_that_are_left_out_are_named(filled_store: Store, sign_in: SignIn, name: str) -> None:
    from tests.layouts.layout import book

    rows = [line.split(",") for line in INCHES.decode().splitlines()]
    rows.append(["Average", "", "15.75", ""])
    content = INCHES + b"Average,,15.75,\n" if name.endswith("csv") else book({"Jumps": rows})
    application = upload(sign_in(filled_store, "carl", PAGE), content, name)
    assert "1 line left out, as no effort is in them: line 5 (a total)." in told(application)
    answer(application)
    assert "3 rows read. 3 to save" in told(application)


def test_numbers_are_not_saved_as_rounded_on_the_page(filled_store: Store, sign_in: SignIn) -> None:
    application = upload(sign_in(filled_store, "carl", PAGE), INCHES)
    answer(application)
    store(application)
    stored = efforts(filled_store, "jump_height", "A1")
    day = stored[stored["started_at"] == pd.Timestamp("2025-03-13T09:00")]
    assert day["value"].tolist() == pytest.approx([39.37, 40.005])
    assert day["volume"].tolist() == [0.0, 1.0]
