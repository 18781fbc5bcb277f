"""`warmcurve import --guess`: the reading, the questions, the rows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from dashboard.app.command_line import application
from db.efforts.rows import efforts
from db.file.store import Store
from db.imports.kept_mappings import get_mapping, list_mappings
from db.roster.athletes import list_athletes
from tests.layouts.layout import book

INCHES = """Player,Date,Jump (in),Rep#
"Berg, Anna",03/13/2025,15.5,1
"Berg, Anna",03/13/2025,15.75,2
"Lindqvist, Bo",03/27/2025,18.0,1
"""
ANSWERS = ("--answer", "athletes=add", "--answer", "kind=fade", "--answer", "clock=9:00")


def run(*words: object) -> Result:
    return CliRunner().invoke(application, [str(word) for word in words])


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "inches.csv"
    path.write_text(INCHES)
    return path


@pytest.fixture
def at(tmp_path: Path) -> tuple[str, Path]:
    return "--db", tmp_path / "store.duckdb"


def test_open_questions_end_the_command_and_say_how_to_answer(
    file: Path, at: tuple[str, Path]
) -> None:
    shown = run("import", file, "--guess", *at)
    assert shown.exit_code == 1
    assert "`Jump (in)` is jump height in inches → cm." in shown.stdout
    assert "Say it with --answer 'clock=...': a time such as 09:30." in shown.stderr
    assert "--answer 'kind=...': fade, routine" in shown.stderr
    assert list_mappings(Store(at[1])) == []


def test_answers_store_the_file_and_the_next_one_needs_none(
    file: Path, at: tuple[str, Path]
) -> None:
    shown = run("import", file, "--guess", *ANSWERS, *at)
    assert shown.exit_code == 0
    assert "inches.csv (inches): 3 rows read" in shown.stdout or "3 stored" in shown.stdout
    store = Store(at[1])
    assert efforts(store, "jump_height")["value"].round(3).tolist() == [39.37, 40.005, 45.72]
    assert list_athletes(store)["name"].tolist() == ["Anna Berg", "Bo Lindqvist"]
    again = file.with_name("next week.csv")
    again.write_text(INCHES.replace("03/13/2025", "04/03/2025"))
    shown = run("import", again, "--guess", *at)
    assert (shown.exit_code, "Read as inches was." in shown.stdout) == (0, True)
    starts = efforts(store, "jump_height")["started_at"].dt.strftime("%Y-%m-%d")
    assert "2025-04-03" in starts.tolist()
    assert run("import", again, "--guess", *at).stdout.endswith("3 known + 0 set aside\n")


def test_json_has_columns_questions_and_rows(file: Path, at: tuple[str, Path]) -> None:
    open_ones = json.loads(run("import", file, "--guess", "--json", *at).stdout)
    assert [each["key"] for each in open_ones["questions"]] == ["athletes", "kind", "clock"]
    assert open_ones["rows"] is None
    said = json.loads(run("import", file, "--guess", "--json", "--dry-run", *ANSWERS, *at).stdout)
    assert said["rows"] == {"read": 3, "stored": 3, "known": 0, "set_aside": 0}
    assert said["columns"][2] == {
        "column": "Jump (in)",
        "meaning": "value",
        "measure": "jump_height",
        "unit": "in",
        "into": "cm",
        "sure": "sure",
        "sentence": "`Jump (in)` is jump height in inches → cm.",
    }


def test_a_dry_run_stores_nothing(file: Path, at: tuple[str, Path]) -> None:
    assert "3 to store" in run("import", file, "--guess", "--dry-run", *ANSWERS, *at).stdout
    assert not at[1].exists()


def test_an_answer_without_an_equals_sign_is_refused(file: Path, at: tuple[str, Path]) -> None:
    shown = run("import", file, "--guess", "--answer", "kind", *at)
    assert shown.exit_code == 1
    assert "'kind' is no answer; write KEY=VALUE" in shown.stderr


def test_every_sheet_of_a_workbook_is_read(tmp_path: Path, at: tuple[str, Path]) -> None:
    rows = [["Athlete", "Date", "Rep", "Jump (cm)"], ["A1", "2025-03-13", 1, 38.4]]
    other = [["Athlete", "Date", "Rep", "Throw speed (km/h)"], ["A1", "2025-03-13", 1, 72]]
    path = tmp_path / "two.xlsx"
    path.write_bytes(book({"Jumps": rows, "Throws": other}))
    assert run("import", path, "--guess", *ANSWERS, *at).exit_code == 0
    store = Store(at[1])
    assert [len(efforts(store, code)) for code in ("jump_height", "throw_speed")] == [1, 1]


def test_an_answer_about_a_remembered_reading_changes_that_and_nothing_else(
    file: Path, at: tuple[str, Path]
) -> None:
    run("import", file, "--guess", *ANSWERS, *at)
    shown = run("import", file, "--guess", "--answer", "clock=17:30", *at)
    assert (shown.exit_code, "3 stored" in shown.stdout) == (0, True)
    mapping = get_mapping(Store(at[1]), "inches")
    assert (mapping.clock, mapping.sources["kind"].fixed) == ("17:30", "fade")


def test_a_remembered_reading_is_a_mapping_like_any_other(
    tmp_path: Path, at: tuple[str, Path]
) -> None:
    titled = tmp_path / "titled.csv"
    titled.write_text("Spring camp\n\n" + INCHES)
    assert run("import", titled, "--guess", *ANSWERS, *at).exit_code == 0
    shown = run("import", titled, "--mapping", "titled", *at)
    assert (shown.exit_code, "3 known" in shown.stdout) == (0, True)
