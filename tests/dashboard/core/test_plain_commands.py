"""What commands say about themselves and about wrong arguments: plain English, no code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.core import TyperOption
from typer.main import get_command

from dashboard.app.command_line import application
from db.file.store import Store
from tests.dashboard.app.test_command_line import run
from tests.dashboard.app.test_commands_nobody_in import COMMANDS

CODE = re.compile(
    r"[<>{}]|list\[|<=|\b(str|int|float|bool|path|None|True|False)\b|--no-(?!browser)|%[A-Za-z]"
)
ADVISE = ["advise", "--athlete", "H01", "--measure", "jump_height"]
SHEET = ["sheet", "--date", "2026-12-01", "--start", "19:30", "--measure", "jump_height", "--out"]
REFUSED = [
    ([*ADVISE, "--at", "25:00"], "'25:00' is no time of day for --at. Write it as 14:30."),
    ([*ADVISE, "--goal", "fast"], "--goal is best, sustained or growth, not 'fast'."),
    ([*ADVISE, "--efforts", "2.5"], "--efforts takes a whole number from 1 to 500, not '2.5'."),
    ([*ADVISE, "--rest", "inf"], "--rest takes a number from 0 to 1440, not 'inf'."),
    ([*ADVISE, "--ambient", "nan"], "--ambient takes a number from -50 to 60, not 'nan'."),
    (["advise", "--athlete", "H01"], "--measure is missing."),
    ([*SHEET, "s.docx"], "--out: the name must end in .pdf, and s.docx does not."),
    ([*SHEET, "s.pdf", "--csv", "s.pdf"], "--csv: the name must end in .csv, and s.pdf does not."),
    (
        [*SHEET, "s.pdf", "--ics", "all.ics"],
        "--ics: this is the name of a folder, and all.ics is one of a file.",
    ),
    (
        ["export", "responses", "x.xlsx"],
        "FILE: the name must end in .csv or .parquet, and x.xlsx does not.",
    ),
    (
        ["privacy", "export", "H01", "h.rar"],
        "FILE.zip: the name must end in .zip, and h.rar does not.",
    ),
    (
        ["export", "people", "x.csv"],
        "WHAT is responses, curves, bands, reliability, next-tests, squad, efforts, set-aside or "
        "package, not 'people'.",
    ),
    (["person", "add", "yara"], "--role is missing. It is director, coach or athlete."),
    (["person", "email", "yara"], "ADDRESS is missing."),
    (["serve", "--port", "0"], "--port takes a whole number from 1 to 65535, not '0'."),
    (
        ["measure", "hop", "--unit", "cm"],
        "There is no measure 'hop' yet; a new one needs --better.",
    ),
    (["measure", "--unit", "cm"], "Name the measure to change by its CODE."),
    (
        ["measure", "jump_height", "--standard-volume", "many"],
        "--standard-volume takes a number or 'none', not 'many'.",
    ),
]


@pytest.mark.parametrize("name", ["", "person", "privacy", *COMMANDS])
def test_help_has_no_code_in_it(name: str) -> None:
    shown = run(*name.split(), "--help")
    assert shown.exit_code == 0
    assert not CODE.search(shown.stdout), CODE.findall(shown.stdout)
    several = shown.stdout.replace("[ARGS]...", "").replace("FILE...", "").replace("FOLDER...", "")
    assert "..." not in several


@pytest.mark.parametrize("name", COMMANDS)
def test_every_parameter_of_a_command_says_what_it_is_for(name: str) -> None:
    for parameter in COMMANDS[name].params:
        assert parameter.help, parameter.name
        assert parameter.metavar or isinstance(parameter, TyperOption), parameter.name
        assert parameter.help.endswith("."), parameter.name


def test_the_list_of_commands_names_all_of_them() -> None:
    assert all(f"\n  {name}" in run("--help").stdout for name in get_command(application).commands)


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=lambda each: str(each)[:40])
def test_a_wrong_argument_is_refused_in_plain_words(
    words: list[str], sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Store(tmp_path / "store.duckdb").create()
    shown = run(*words, "--db", tmp_path / "store.duckdb")
    assert shown.exit_code == 2
    assert shown.stdout == ""
    assert shown.stderr.splitlines()[-1] == f"Error: {sentence}"
    assert [file.name for file in tmp_path.iterdir()] == ["store.duckdb"]


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_a_day_in_a_far_off_year_is_refused(day: str, tmp_path: Path) -> None:
    words = ["sheet", "--date", day, *SHEET[3:], tmp_path / "s.pdf", "--db", tmp_path / "s.duckdb"]
    shown = run(*words)
    assert shown.exit_code == 2
    assert "--date: the year must be from 1950 to 2149." in shown.stderr


@pytest.mark.parametrize("days", ["99999999999", "9" * 5000, "-1", "soon", "²"])
def test_days_to_keep_things_must_be_a_possible_number(days: str, tmp_path: Path) -> None:
    store = Store(tmp_path / "store.duckdb")
    store.create()
    shown = run("privacy", "keep", "sessions", "--db", store.path, "--", days)
    assert shown.exit_code == 1
    assert re.search("Name the days|for 36500 days at most", shown.stderr)
    assert run("privacy", "apply", "--db", store.path).exit_code == 0


def test_reasons_are_counted_once_with_their_lines(tmp_path: Path) -> None:
    file = tmp_path / "season.csv"
    known = [f"A1,2026-03-01T09:00,jump_height,{number},40,0" for number in range(1, 12)]
    others = ["A2,now,jump_height,1,40,0", "A3,2026-03-01T09:00,hops,1,40,0"] * 2
    head = "athlete,started_at,measure,effort,value,volume_before"
    file.write_text("\n".join([head, *known, *others, "A1,2026-03-02T09:00,jump_height,1,40,0"]))
    db = tmp_path / "store.duckdb"
    shown = run("import", file, "--dry-run", "--db", db)
    assert shown.exit_code == 3
    told = shown.stderr.splitlines()
    assert told == [
        "14 rows set aside (lines 2 to 12, 14, 16 to 17): athletes A1, A3 are not known. "
        "Add them with --add-athletes, or first with: warmcurve athletes FILE.",
        "2 rows set aside (lines 13, 15): 'now' is not a time; write it as 2026-03-01T09:30.",
    ]
    shown = run("import", file, "--add-athletes", "--db", db)
    told = shown.stderr.splitlines()
    assert "12 stored + 0 known + 4 set aside" in shown.stdout
    assert told[1].startswith("2 rows set aside (lines 13, 15): 'now' is not a time")
    assert told[2].startswith("2 rows set aside (lines 14, 16): there is no measure 'hops'")
    assert told[-1] == (
        "They are kept: warmcurve export set-aside FILE writes them with their reasons."
    )


def test_many_reasons_are_not_all_listed(tmp_path: Path) -> None:
    file = tmp_path / "season.csv"
    head = "athlete,started_at,measure,effort,value,volume_before"
    rows = [f"A1,2026-03-01T09:00,jump_height,1,{500 + row},0" for row in range(30)]
    file.write_text("\n".join([head, *rows]))
    shown = run("import", file, "--add-athletes", "--db", tmp_path / "store.duckdb")
    told = [line for line in shown.stderr.splitlines() if "set aside" in line]
    assert told[-1] == "20 rows set aside for other reasons."
    assert len(told) == 11
