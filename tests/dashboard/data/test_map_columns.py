"""Other people's files: mapped, pasted, and rows put right on the page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from dashboard.app.command_line import application as commands
from db.efforts.rows import efforts, sessions
from db.file.checks import check
from db.file.store import Store
from db.imports.corrections import correctable_rows
from db.imports.effort_files import read_table
from db.imports.kept_mappings import get_mapping, list_mappings, save_mapping
from db.imports.mappings import ColumnMapping, Source
from db.imports.storing import import_efforts
from tests.dashboard.conftest import SignIn, told

WIDE = "Code;When;Warm-up;J1;J2\nA1;01.05.2026 10:00;15;0,405;0,41\nB7;01.05.2026 10:00;15;0,3;\n"
MAPPING = ColumnMapping(
    {
        "athlete": Source("code"),
        "started_at": Source("when"),
        "measure": Source(fixed="jump_height"),
        "value": Source(unit="m"),
        "volume_before": Source("warm-up"),
    },
    side_by_side=("j1", "j2"),
    time_form="day first",
)
FAULTY = b"""athlete,started_at,measure,effort,value,volume_before,note
A1,2026-05-01T10:00,jump_height,1,x,15,windy
B7,2026-05-01T10:00,jump_height,1,38.0,15,
"""


def labelled(application: AppTest, kind: str, label: str) -> Any:
    return next(each for each in application.get(kind) if each.label.startswith(label))


def choose(application: AppTest, label: str, value: str) -> None:
    labelled(application, "selectbox", label).set_value(value).run()


def answer_wide(application: AppTest) -> None:
    labelled(application, "radio", "What do the values in J1").set_value("jump_height").run()
    labelled(application, "radio", "In which unit is J1?").set_value("m").run()
    labelled(application, "radio", "What is Warm-up?").set_value("volume_before").run()


def test_efforts_side_by_side_after_a_warm_up_are_read_saved_and_used_again(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl", "import_efforts")
    application.file_uploader[0].upload("plate.csv", WIDE.replace("B7", "A2").encode())
    application.run()
    answer_wide(application)
    assert "plate.csv: 3 rows read. 3 to save, 0 known already" in told(application)
    stored = application.dataframe[1].value
    assert stored["value"].tolist() == [40.5, 41.0, 30.0]
    assert stored["volume before"].tolist() == [15.0, 16.0, 15.0]
    application.button(key="store_efforts").click().run()
    mapping = get_mapping(filled_store, "plate")
    assert [dict(each.says) for each in mapping.values] == [
        {"measure": "jump_height", "unit": "m", "effort": "1"},
        {"measure": "jump_height", "unit": "m", "effort": "2"},
    ]
    assert mapping.sources["volume_before"] == Source("warm-up")


def test_the_page_shows_what_a_saved_mapping_reads(filled_store: Store, sign_in: SignIn) -> None:
    save_mapping(filled_store, "plate", MAPPING, "test")
    application = sign_in(filled_store, "carl", "map_columns")
    said = told(application)
    assert "`code` is the athlete." in said
    assert "`j2` has values, effort 2." in said
    assert "Measure is jump_height on every row." in said


def test_names_in_a_file_are_given_our_codes_once(filled_store: Store, sign_in: SignIn) -> None:
    named = WIDE.replace("A1;", "long one;").replace("B7;", "Zwei;")
    application = sign_in(filled_store, "carl", "import_efforts")
    application.file_uploader[0].upload("plate.csv", named.encode())
    application.run()
    answer_wide(application)
    choose(application, "Who is Zwei?", "A2")
    application.button(key="store_efforts").click().run()
    codes = get_mapping(filled_store, "plate").sources["athlete"].codes
    assert codes == {"long one": "A1", "Zwei": "A2"}
    later = named.replace("01.05.2026", "02.05.2026")
    application.file_uploader[0].upload("later.csv", later.encode())
    application.run()
    assert "3 rows read. 3 to save" in told(application)
    assert not [each for each in application.selectbox if each.label.startswith("Who is")]


def test_a_fact_about_every_row_is_entered_once(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "import_efforts")
    application.file_uploader[0].upload("plate.csv", WIDE.replace("B7", "A2").encode())
    application.run()
    answer_wide(application)
    labelled(application, "number_input", "The temperature").set_value(21.0).run()
    choose(application, "What the session was part of", "training")
    application.button(key="store_efforts").click().run()
    newest = sessions(filled_store, athlete="A1").iloc[0]
    assert (newest["ambient_c"], newest["context"]) == (21.0, "training")


def test_a_saved_mapping_is_renamed_and_deleted_on_the_page(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_mapping(filled_store, "plate", MAPPING, "test")
    application = sign_in(filled_store, "carl", "map_columns")
    labelled(application, "text_input", "New name").set_value("jumps")
    application.button(key="rename_mapping").click().run()
    assert "plate is called jumps now" in told(application)
    assert application.button(key="delete_mapping").disabled
    labelled(application, "checkbox", "Delete it").check().run()
    application.button(key="delete_mapping").click().run()
    assert "jumps is deleted. What was imported by it stays." in told(application)
    assert list_mappings(filled_store) == []


def test_pasted_cells_are_imported_by_a_saved_mapping(filled_store: Store, sign_in: SignIn) -> None:
    save_mapping(filled_store, "plate", MAPPING, "test")
    before = len(efforts(filled_store, "jump_height"))
    application = sign_in(filled_store, "dora", "import_efforts")
    labelled(application, "segmented_control", "Rows from").set_value("Pasted cells").run()
    application.text_area[0].set_value(WIDE.replace(";", "\t")).run()
    assert "Answer the questions above to see the rows" in told(application)
    assert not [each for each in application.button if each.key == "store_efforts"]
    application.selectbox(key="import_mapping").set_value("plate").run()
    assert "pasted cells.tsv (plate): 3 rows read. 2 to save" in told(application)
    application.button(key="store_efforts").click().run()
    assert "2 saved, 0 known already, 1 set aside" in told(application)
    assert len(efforts(filled_store, "jump_height")) == before + 2


def editor_state(application: AppTest, edits: dict[int, dict[str, object]]) -> None:
    [editor] = application.data_editor
    application.session_state[str(editor.key)] = {
        "edited_rows": edits,
        "added_rows": [],
        "deleted_rows": [],
    }


def test_rows_set_aside_are_put_right_on_the_page(filled_store: Store, sign_in: SignIn) -> None:
    import_efforts(filled_store, read_table(FAULTY, "typed.csv"), "test")
    application = sign_in(filled_store, "carl", "import_efforts")
    assert "2 rows. Correct the cells below" in told(application)
    application.button(key="store_corrected").click().run()
    assert "No row was chosen. Correct a cell, or tick a row" in told(application)
    editor_state(application, {0: {"value": " 40.5 "}, 1: {"store": True}})
    application.checkbox(key="corrected_add").check().run()
    application.button(key="store_corrected").click().run()
    assert "2 corrected rows read. 2 saved, 0 known already, 0 set aside" in told(application)
    assert "No row of the files imported so far is set aside" in told(application)
    stored = efforts(filled_store, "jump_height", "A1")
    assert stored[["value", "note"]].iloc[-1].tolist() == [40.5, "windy"]
    with filled_store.reading() as cursor:
        last = cursor.execute("SELECT person, detail FROM audit ORDER BY revision DESC").fetchone()
    assert last == ("carl", "2 corrected rows")
    assert check(filled_store) == []


def test_a_row_that_is_still_wrong_is_listed_with_its_new_reason(
    filled_store: Store, sign_in: SignIn
) -> None:
    import_efforts(filled_store, read_table(FAULTY, "typed.csv"), "test")
    application = sign_in(filled_store, "carl", "import_efforts")
    editor_state(application, {0: {"value": "999"}})
    application.button(key="store_corrected").click().run()
    assert "0 saved, 0 known already, 1 set aside again" in told(application)
    rows = correctable_rows(filled_store)
    assert rows["file"].tolist() == ["typed.csv, corrected", "typed.csv"]
    assert rows["reason"][0].startswith("999 is outside 5 to 150 cm")


@pytest.mark.parametrize(
    ("name", "said", "status"),
    [("plate", "3 rows read = 2 stored + 0 known + 1 set aside", 3), ("gate", "no mapping", 1)],
)
def test_the_import_command_reads_by_a_saved_mapping(
    filled_store: Store, tmp_path: Path, name: str, said: str, status: int
) -> None:
    save_mapping(filled_store, "plate", MAPPING, "test")
    file = tmp_path / "plate.csv"
    file.write_text(WIDE)
    words = ["import", str(file), "--mapping", name, "--db", str(filled_store.path)]
    shown = CliRunner().invoke(commands, words)
    assert said in shown.output and shown.exit_code == status
