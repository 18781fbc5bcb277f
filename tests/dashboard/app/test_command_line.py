from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path
from unittest.mock import MagicMock

import pandas as pd
import pytest
from argon2 import PasswordHasher
from typer.testing import CliRunner, Result

from dashboard.app import serve
from dashboard.app.command_line import application
from dashboard.app.demo import NotADemo, demo_store, measures_to_fit
from dashboard.club import person_commands
from dashboard.core.terminal import progress_bar
from dashboard.serving.listening import Where, listen
from dashboard.sign_in import accounts
from dashboard.sign_in.accounts import person_with_password
from db.efforts.rows import data_summary
from db.file.checks import check
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.kept_fits import Conclusions, keep_fit
from db.imports import parsed_rows
from db.people.accounts import get_person, list_people
from db.roster.athletes import list_athletes
from db.roster.measures import get_measure
from tests.dashboard import artificial
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import WARMCURVE, post_form, quiet_environment, serving
from tests.db.tables.test_excel_files import workbook
from tests.patience import PATIENCE_SECONDS

COMMANDS = (
    "demo serve import athletes measure protocol test-days simulate advise sheet fit export person"
    " backup restore check"
).split()


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    quick = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(accounts, "HASHER", quick)


@pytest.fixture
def path(tmp_path: Path) -> Iterator[Path]:
    """Return where a store can be made; it stays open between the commands of a test."""
    path = tmp_path / "club" / "warmcurve.duckdb"
    with Store(path).kept_open():
        yield path


def run(*words: str | Path, typed: str | None = None) -> Result:
    return CliRunner().invoke(application, [str(word) for word in words], input=typed)


def process(*words: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*WARMCURVE, *map(str, words)],
        capture_output=True,
        text=True,
        env=quiet_environment() | more,
        timeout=PATIENCE_SECONDS,
        check=False,
    )


def athletes_file(folder: Path) -> Path:
    file = folder / "athletes.csv"
    artificial.athlete_rows().to_csv(file, index=False)
    return file


def efforts_file(folder: Path, *codes: str) -> Path:
    """Write the efforts of the artificial athletes, or of those named."""
    file = folder / "season.csv"
    kept = {code: artificial.ATHLETES[code] for code in codes or artificial.ATHLETES}
    file.write_bytes(artificial.efforts_csv(kept))
    return file


def test_help_names_every_command_and_loads_nothing_heavy() -> None:
    shown = process("--help", PYTHONPROFILEIMPORTTIME="1")
    assert shown.returncode == 0
    assert all(f"\n  {command} " in shown.stdout for command in COMMANDS)
    loaded = {line.rpartition("|")[2].strip() for line in shown.stderr.splitlines()}
    assert "typer" in loaded
    assert not loaded & {"pandas", "duckdb", "sklearn", "scipy", "streamlit", "plotly"}


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_takes_the_store(command: str) -> None:
    words = [command, "list"] if command == "person" else [command]
    shown = run(*words, "--help")
    assert shown.exit_code == 0
    assert "--db" in shown.stdout


def test_wrong_arguments_exit_with_2(path: Path) -> None:
    assert run("export", "people", "x.csv", "--db", path).exit_code == 2
    assert run("warm-up").exit_code == 2
    assert run("measure", "javelin", "--unit", "m", "--db", path).exit_code == 2
    assert run("measure", "--unit", "m", "--db", path).exit_code == 2
    assert run("measure", "jump_height", "--standard-volume", "many", "--db", path).exit_code == 2


def test_a_failure_is_one_sentence_and_exits_with_1(path: Path) -> None:
    shown = process("check", "--db", path)
    assert shown.returncode == 1
    assert shown.stdout == ""
    assert shown.stderr.startswith("There is no store at")
    assert shown.stderr.count("\n") == 1


def test_an_interruption_is_reported_and_exits_with_1(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("db.file.checks.check", interrupted)
    shown = run("check", "--db", path)
    assert shown.exit_code == 1
    assert shown.stderr.startswith("Stopped.")


def test_a_column_of_athletes_that_is_not_read_is_named(path: Path, tmp_path: Path) -> None:
    """Otherwise a date of birth under another name would give a 16-year-old an adult's limits."""
    file = tmp_path / "ages.csv"
    file.write_text("athlete,birth_date\nA1,2010-03-01\n")
    told = run("athletes", file, "--db", path).stdout
    assert "1 added" in told and "Not read: birth_date. The columns that are: athlete," in told


def test_import_adds_up_and_says_what_was_set_aside(path: Path, tmp_path: Path) -> None:
    assert run("athletes", athletes_file(tmp_path), "--db", path).stdout.endswith(
        "athletes.csv: 5 added, 0 updated, 0 unchanged.\n"
    )
    file = efforts_file(tmp_path, "A4")
    shown = run("import", file, "--db", path)
    assert shown.exit_code == 0
    assert shown.stdout == "season.csv: 24 rows read = 24 stored + 0 known + 0 set aside\n"
    file.write_bytes(file.read_bytes() + b"\nA9,2026-03-14T10:00,jump_height,1,40,0,fade")
    shown = run("import", file, "--db", path)
    assert shown.exit_code == 3
    assert shown.stdout == "season.csv: 25 rows read = 0 stored + 24 known + 1 set aside\n"
    assert "1 row set aside (line 26): athlete A9 is not known. Add them" in shown.stderr
    shown = run("import", file, "--add-athletes", "--db", path)
    assert shown.exit_code == 0
    assert "1 stored + 24 known" in shown.stdout
    assert "New athletes: A9." in shown.stderr


def test_dry_run_stores_nothing(path: Path, tmp_path: Path) -> None:
    shown = run("import", efforts_file(tmp_path), "--dry-run", "--add-athletes", "--db", path)
    assert shown.exit_code == 0
    assert "204 to store + 0 known + 0 set aside" in shown.stdout
    assert not path.exists()
    run("import", efforts_file(tmp_path, "A4"), "--add-athletes", "--db", path)
    shown = run("import", efforts_file(tmp_path), "--dry-run", "--add-athletes", "--db", path)
    assert "180 to store + 24 known" in shown.stdout
    assert data_summary(Store(path))["efforts"].sum() == 24


def test_the_sheet_that_was_read_is_named_and_the_others_are_counted(
    path: Path, tmp_path: Path
) -> None:
    file = tmp_path / "season.xlsx"
    file.write_bytes(workbook(["May", "June", "July"], hidden=["Lists"]))
    shown = run("import", file, "--add-athletes", "--db", path)
    assert shown.stdout.startswith("season.xlsx, sheet May: 1 rows read = 1 stored")
    assert (
        "The sheet May was read. 2 others were not: June, July. Read another with --sheet NAME. "
        "Hidden, and not read: Lists."
    ) in shown.stderr
    shown = run("import", file, "--sheet", "lists", "--dry-run", "--db", path)
    assert shown.stdout.startswith("season.xlsx, sheet Lists: 1 rows read")
    shown = run("import", file, "--sheet", "August", "--db", path)
    assert (shown.exit_code, shown.stdout) == (1, "")
    assert "has no sheet 'August'. Its sheets are May, June, July, Lists." in shown.stderr


@pytest.mark.parametrize("options", [(), ("--dry-run",)])
def test_a_refused_file_names_the_options_that_would_help(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...]
) -> None:
    monkeypatch.setattr(parsed_rows, "MOST_SET_ASIDE", 0)
    file = tmp_path / "season.csv"
    for cells, said in (
        ("2026-03-01;jump_height;1;41.5", "--at HH:MM"),
        ("2026-03-01T09:00;jump_height;1;1,200", "--decimal-mark point or --decimal-mark comma."),
    ):
        file.write_text(f"athlete;started_at;measure;effort;value\nA1;{cells}\n")
        shown = run("import", file, "--add-athletes", *options, "--db", path)
        assert (shown.exit_code, shown.stdout) == (1, "")
        assert "More than 0 rows" in shown.stderr and said in shown.stderr


def test_what_a_file_does_not_show_is_asked_for_and_can_be_given(
    path: Path, tmp_path: Path
) -> None:
    run("measure", "force", "--name", "F", "--unit", "N", "--better", "higher", "--db", path)
    file = tmp_path / "season.csv"
    file.write_text(
        "athlete;started_at;measure;effort;value;kind\nA1;2026-03-01;force;1;1,200;fade\n"
        "A1;2026-03-02;force;1;900;fade\n"
    )
    shown = run("import", file, "--add-athletes", "--db", path)
    assert shown.stdout == "season.csv: 2 rows read = 0 stored + 0 known + 2 set aside\n"
    assert "Say when they were with --at HH:MM." in shown.stderr
    assert "--decimal-mark point or --decimal-mark comma." in shown.stderr
    said = ["--add-athletes", "--at", "9:30", "--decimal-mark", "point", "--db", path]
    shown = run("import", file, *said)
    assert (shown.exit_code, shown.stdout) == (
        0,
        "season.csv: 2 rows read = 2 stored + 0 known + 0 set aside\n",
    )
    assert "--at" not in shown.stderr and "--decimal-mark" not in shown.stderr
    shown = run("import", file, "--at", "25:00", "--db", path)
    assert (shown.exit_code, shown.stderr) == (
        1,
        "'25:00' is not a time of day; write it as 09:30.\n",
    )


def test_athletes_are_read_from_the_named_sheet(path: Path, tmp_path: Path) -> None:
    file = tmp_path / "squad.xlsx"
    with pd.ExcelWriter(file) as book:
        pd.DataFrame({"club": ["Ours"]}).to_excel(book, sheet_name="Club", index=False)
        pd.DataFrame({"athlete": ["A1"]}).to_excel(book, sheet_name="Squad", index=False)
    assert "column athlete is missing" in run("athletes", file, "--db", path).stderr
    shown = run("athletes", file, "--sheet", "Squad", "--db", path)
    assert "1 added" in shown.stdout
    assert "The sheet Squad was read. 1 other was not: Club." in shown.stderr


@pytest.mark.parametrize("name", ["missing.csv", "notes.docx"])
def test_a_file_that_cannot_be_read_is_named(path: Path, tmp_path: Path, name: str) -> None:
    (tmp_path / "notes.docx").write_text("hello")
    shown = run("import", tmp_path / name, "--db", path)
    assert shown.exit_code == 1
    assert name in shown.stderr
    assert shown.stderr.count("\n") == 1


def test_the_protocol_of_a_measure_is_shown_and_changed(path: Path) -> None:
    run("measure", "--db", path)
    assert "hands on hips" in run("protocol", "jump_height", "--db", path).stdout
    words = ("--arms", "arms free", "--depth", "90 degrees", "--ball", "none", "--shoes", "spikes")
    more = ("--start", "from standing", "--surface", "grass", "--rest", "45", "--effort", "hops")
    rules = ("--stop", "8", "--stop-in-a-row", "2", "--most", "30")
    told = run("protocol", "jump_height", *words, *more, *rules, "--db", path).stdout
    told = " ".join(told.replace("\u00a0", " ").split())
    assert told == (
        "jump_height: Hops, arms free, none, from standing, 45 s between two, 90 degrees, grass,"
        " spikes. The same each time. A fade test: stop when 2 in a row are below 92 % of the best"
        " so far, at most 30 efforts (under 18 six tenths of it)."
    )
    usual = run("protocol", "jump_height", "--arms", "usual", "--db", path).stdout
    assert "hands on hips" in usual and "90 degrees" in usual
    sprint = run("protocol", "sprint_10m", "--stop", "5", "--db", path).stdout
    assert "more than 5\u00a0% slower" in sprint and "3 in a row" in sprint
    assert len(run("protocol", "--db", path).stdout.splitlines()) >= 3
    for wrong in ("--stop", "70"), ("--most", "900"), ("--rest", "4000"):
        assert run("protocol", "jump_height", *wrong, "--db", path).exit_code == 1
    assert run("protocol", "--most", "20", "--db", path).exit_code == 2


def test_the_rules_for_test_days_are_shown_and_changed(path: Path) -> None:
    run("measure", "--db", path)
    assert "No test within 48 hours" in run("test-days", "--db", path).stdout
    told = run("test-days", "--hours-before-game", "72", "--in-week", "1", "--db", path).stdout
    assert "within 72 hours before a game" in told and "at most 1 in a week" in told
    refused = run("test-days", "--in-week", "9", "--db", path)
    assert refused.exit_code == 1 and "1 to 7 tests in a week" in refused.stderr


def test_measures_are_listed_added_and_changed(path: Path) -> None:
    listed = run("measure", "--db", path)
    assert listed.exit_code == 0
    assert "jump_height: Jump height in cm, higher is better" in listed.stdout
    run("measure", "hop_30s", "--unit", "hops", "--better", "higher", "--db", path)
    run("measure", "hop_30s", "--standard-volume", "12", "--worthwhile", "2", "--db", path)
    hop = get_measure(Store(path), "hop_30s")
    assert (hop.name, hop.standard_volume, hop.worthwhile_pct) == ("Hop 30s", 12.0, 2.0)
    shown = run("measure", "hop_30s", "--standard-volume", "none", "--db", path)
    assert "standard volume not set" in shown.stdout
    assert get_measure(Store(path), "hop_30s").standard_volume is None
    shown = run("measure", "hop_30s", "--worthwhile", "90", "--db", path)
    assert shown.exit_code == 1
    assert "must be above 0" in shown.stderr


def test_fit_prints_a_line_per_measure_and_export_writes_it(path: Path, tmp_path: Path) -> None:
    run("import", efforts_file(tmp_path), "--add-athletes", "--db", path)
    shown = run("fit", "--db", path)
    assert shown.exit_code == 0
    assert re.fullmatch(r"jump_height: 4 athletes, 204 efforts, \d+\.\d s\n", shown.stdout)
    for what, ending in (("responses", "csv"), ("curves", "parquet"), ("efforts", "csv")):
        file = tmp_path / f"{what}.{ending}"
        shown = run("export", what, file, "--measure", "jump_height", "--db", path)
        assert shown.exit_code == 0
        read = pd.read_csv if ending == "csv" else pd.read_parquet
        assert f"{file}: {len(read(file))} rows of {what}." in shown.stdout
    assert run("fit", "--measure", "javelin", "--db", path).exit_code == 1
    shown = run("fit", "--measure", "throw_speed", "--db", path)
    assert shown.exit_code == 1
    assert "A fit needs at least" in shown.stderr


def test_a_fit_by_worker_processes_is_the_same(path: Path, tmp_path: Path) -> None:
    run("import", efforts_file(tmp_path), "--add-athletes", "--db", path)
    tables = []
    for words in ([], ["--workers", "2"]):
        assert run("fit", *words, "--db", path).exit_code == 0
        file = tmp_path / f"responses {len(words)}.csv"
        run("export", "responses", file, "--measure", "jump_height", "--db", path)
        tables.append(pd.read_csv(file))
    pd.testing.assert_frame_equal(*tables, rtol=1e-9)


def test_workers_and_scheduler_are_checked(path: Path, tmp_path: Path) -> None:
    both = run("fit", "--workers", "2", "--scheduler", "tcp://127.0.0.1:9", "--db", path)
    assert both.exit_code == 2
    assert "Give either --workers or --scheduler" in " ".join(both.stderr.split())
    run("import", efforts_file(tmp_path), "--add-athletes", "--db", path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("modeling.compute.cluster.ANSWERS_WITHIN_SECONDS", 0.5)
        nobody = run("fit", "--scheduler", "tcp://127.0.0.1:9", "--db", path)
    assert nobody.exit_code == 1
    assert "No scheduler answers at tcp://127.0.0.1:9" in " ".join(nobody.stderr.split())


def test_people_are_added_listed_and_changed(path: Path, tmp_path: Path) -> None:
    shown = run("person", "add", "Dana", "--role", "director", "--db", path, typed=PASSWORD + "\n")
    assert shown.exit_code == 0
    assert PASSWORD not in shown.output
    store = Store(path)
    assert person_with_password(store, "dana", PASSWORD) is not None
    run("athletes", athletes_file(tmp_path), "--db", path)
    words = ["--role", "athlete", "--athlete", "A1", "--display-name", "Long One", "--generate"]
    shown = run("person", "add", "long.one", *words, "--db", path)
    assert person_with_password(store, "long.one", shown.stdout.strip()) is not None
    listed = run("person", "list", "--db", path).stdout.splitlines()
    assert listed == ["dana: Dana, director", "long.one: Long One, athlete, athlete A1"]
    run("person", "role", "long.one", "coach", "--db", path)
    run("person", "deactivate", "long.one", "--db", path)
    person = get_person(store, "long.one")
    assert person is not None
    assert (person.role, person.active) == ("coach", False)
    run("person", "email", "long.one", "Long.One@club.example", "--db", path)
    listed = run("person", "list", "--db", path).stdout.splitlines()
    said = "long.one: Long One, coach, sees nobody yet, long.one@club.example, not active"
    assert listed[1] == said
    run("person", "email", "long.one", "none", "--db", path)
    assert "club.example" not in run("person", "list", "--db", path).stdout
    run("person", "activate", "long.one", "--db", path)
    run("person", "password", "long.one", "--db", path, typed="another-good-one\n")
    assert person_with_password(store, "long.one", "another-good-one") is not None


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["add", "eve", "--role", "athlete", "--generate"], "needs the code of its athlete"),
        (["password", "nobody", "--generate"], "no account 'nobody'"),
        (["role", "nobody", "coach"], "no account 'nobody'"),
        (["email", "nobody", "x@club.example"], "no account 'nobody'"),
        (["email", "nobody", "club.example"], "no account 'nobody'"),
    ],
)
def test_a_change_of_a_person_that_cannot_be_made_says_why(
    path: Path, words: list[str], sentence: str
) -> None:
    Store(path).create()
    shown = run("person", *words, "--db", path)
    assert shown.exit_code == 1
    assert sentence in shown.stderr


def test_a_secret_that_others_can_read_is_not_used(path: Path, tmp_path: Path) -> None:
    settings = tmp_path / "club.toml"
    settings.write_text('client_secret = "known to all"\n')
    settings.chmod(0o644)
    shown = run("serve", "--no-browser", "--club-sign-in", settings, "--db", path)
    assert shown.exit_code == 1
    assert "other accounts of this machine can open it" in shown.stderr
    assert "known to all" not in shown.output
    assert not path.exists()


def test_a_coach_sees_nobody_until_squads_or_all_athletes_are_named(
    path: Path, tmp_path: Path
) -> None:
    file = tmp_path / "athletes.csv"
    file.write_text("athlete,squad\nA1,First; Youth\nA2,Youth\n")
    run("athletes", file, "--db", path)
    words = ["--role", "coach", "--squad", "Youth", "--generate"]
    shown = run("person", "add", "yara", *words, "--db", path)
    assert shown.exit_code == 0
    assert shown.stderr.startswith("As coach yara sees 2 athletes of Youth.\n")
    listed = "yara: yara, coach, sees 2 athletes of Youth\n"
    assert run("person", "list", "--db", path).stdout == listed
    shown = run("person", "role", "yara", "coach", "--squad", "Third", "--db", path)
    assert shown.exit_code == 1
    assert "There is no squad 'Third'. The squads are First, Youth" in shown.stderr
    shown = run("person", "role", "yara", "coach", "--db", path)
    assert "As coach yara sees nobody yet. To change that: warmcurve person" in shown.stderr
    assert run("person", "list", "--db", path).stdout == "yara: yara, coach, sees nobody yet\n"
    shown = run("person", "role", "yara", "coach", "--all-athletes", "--db", path)
    assert "As coach yara sees all athletes (2 now)." in shown.stderr
    shown = run("person", "role", "yara", "director", "--all-athletes", "--db", path)
    assert shown.exit_code == 1 and "Only a coach is given squads or all athletes" in shown.stderr


@pytest.mark.parametrize(
    ("typed", "squads", "sees_all"),
    [("Youth, First", ("First", "Youth"), False), ("All athletes", (), True), ("", (), False)],
)
def test_whom_a_coach_sees_is_asked_on_a_terminal(
    path: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    typed: str,
    squads: tuple[str, ...],
    sees_all: bool,
) -> None:
    file = tmp_path / "athletes.csv"
    file.write_text("athlete,squad\nA1,First; Youth\nA2,Youth\n")
    run("athletes", file, "--db", path)
    monkeypatch.setattr(person_commands.sys, "stdin", type("T", (), {"isatty": lambda _: True})())
    monkeypatch.setattr(person_commands.typer, "prompt", lambda *_, **__: typed)
    person_commands.add("yara", "coach", generate=True, db=path)
    yara = get_person(Store(path), "yara")
    assert yara is not None and (yara.squads, yara.sees_all) == (squads, sees_all)
    said = capsys.readouterr().err.splitlines()
    assert said[0] == "Which athletes does yara see? The squads are: First, Youth."
    assert said[1].startswith("As coach yara sees ")


def test_short_password_is_refused(path: Path) -> None:
    shown = run("person", "add", "dana", "--role", "director", "--db", path, typed="short\n")
    assert shown.exit_code == 1
    assert "needs at least 12" in shown.stderr


def test_password_is_asked_twice_on_a_terminal(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def prompt(text: str, **how: bool) -> str:
        asked.append((text, how))
        return PASSWORD

    monkeypatch.setattr(person_commands.sys, "stdin", type("T", (), {"isatty": lambda _: True})())
    monkeypatch.setattr(person_commands.typer, "prompt", prompt)
    person_commands.add("dana", "director", db=path)
    expected = {"hide_input": True, "confirmation_prompt": True, "err": True}
    assert asked == [("Password", expected)]


def test_backup_restore_and_check(path: Path, tmp_path: Path) -> None:
    run("import", efforts_file(tmp_path, "A4"), "--add-athletes", "--db", path)
    folder = run("backup", tmp_path / "copies", "--db", path).stdout.strip()
    restored = tmp_path / "restored.duckdb"
    assert run("restore", folder, "--db", restored).stdout.strip() == str(restored)
    assert data_summary(Store(restored))["efforts"].sum() == 24
    assert run("restore", folder, "--db", restored).exit_code == 1
    shown = run("check", "--db", restored)
    assert (shown.exit_code, shown.stdout) == (0, "")


def test_check_prints_what_it_finds_and_exits_with_1(path: Path) -> None:
    store = Store(path)
    store.create()
    with store.writing("test", "break on purpose") as cursor:
        cursor.execute(
            "INSERT INTO import_batch (file, sha256, person, rows_read, stored, known, set_aside) "
            "VALUES ('lost.csv', repeat('0', 64), 'test', 10, 10, 0, 0)"
        )
    shown = run("check", "--db", path)
    assert shown.exit_code == 1
    assert "stored efforts" in shown.stdout


def test_store_is_found_by_option_then_environment(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(tmp_path / "other.duckdb"))
    run("measure", "--db", path)
    assert path.exists()
    assert not (tmp_path / "other.duckdb").exists()
    run("measure")
    assert (tmp_path / "other.duckdb").exists()


def test_progress_is_drawn_on_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with progress_bar() as progress:
        progress(0.5, "Half way")
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    with progress_bar() as progress:
        progress(0.5, "Half way")
    assert "Half way" in capsys.readouterr().err


def test_serve_on_a_taken_port_exits_with_1(path: Path) -> None:
    with listen(Where()) as listener:
        shown = run("serve", "--port", listener.getsockname()[1], "--db", path)
    assert shown.exit_code == 1
    assert "is not free" in shown.stderr


@pytest.mark.parametrize("command", ["serve", "demo"])
def test_where_to_listen_is_set_by_options_or_by_the_environment(
    command: str, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Where] = []
    monkeypatch.setattr(serve, "serve", lambda _, where, *__, **___: started.append(where))
    monkeypatch.setattr("dashboard.fits.background_fits.FittingProcess", MagicMock())
    words = ["--host", "127.0.0.2", "--port", "9", "--allow-host", "a.example"]
    run(command, *words, "--allow-host", "b.example", "--db", path)
    monkeypatch.setenv("WARMCURVE_HOST", "127.0.0.3")
    monkeypatch.setenv("WARMCURVE_PORT", "10")
    monkeypatch.setenv("WARMCURVE_ALLOW_HOST", "c.example d.example")
    run(command, "--db", path)
    assert [(each.host, each.port, list(each.allowed_hosts)) for each in started] == [
        ("127.0.0.2", 9, ["a.example", "b.example"]),
        ("127.0.0.3", 10, ["c.example", "d.example"]),
    ]
    shown = run(command, "--allow-host", "*", "--db", path)
    assert shown.exit_code == 1 and "'*' is not a host such as" in shown.stderr


def test_the_version_is_printed() -> None:
    assert run("--version").stdout == f"{version('warmcurve')}\n"


def test_demo_leaves_a_real_club_alone(path: Path) -> None:
    Store(path).create()
    with pytest.raises(NotADemo, match="not the demo's, and was left as it is"):
        demo_store(path, lambda sentence: None)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Store:
    folder = tmp_path_factory.mktemp("demo")
    (folder / "unfinished-demo.duckdb").write_text("left by a run that was killed")
    return demo_store(folder / "demo.duckdb", lambda sentence: None)


def test_demo_store_is_whole_and_alone_in_its_folder(demo: Store) -> None:
    assert [file.name for file in demo.path.parent.iterdir()] == ["demo.duckdb"]
    assert get_setting(demo, "demo") == "yes"
    assert set(data_summary(demo)["measure"]) == {"jump_height", "throw_speed"}
    assert check(demo) == []
    assert [person.role for person in list_people(demo)] == ["athlete", "coach", "director"]


def test_demo_fits_the_measure_of_the_first_page_first(demo: Store) -> None:
    assert measures_to_fit(demo) == ["jump_height", "throw_speed"]


def test_live_demo_is_served_while_it_is_fitted_and_stops_in_between(tmp_path: Path) -> None:
    path = tmp_path / "demo" / "warmcurve.duckdb"
    path.parent.mkdir()
    with serving(path, command="demo") as server, server.client() as client:
        assert post_form(client, {"sample": "director"}).status_code == 303
        # The export shows that a fit is saved. Its sentence may come much later, because by then
        # the fit lets other work go first.
        exported = "/download/export/responses.csv?measure=jump_height"
        server.until(lambda: client.get(exported).text.count("\n") > 20)
    said = server.log.read_text()
    assert said.index("The dashboard is at") < said.index("Stopped.")
    assert said.endswith("Stopped.\n")
    assert "Traceback" not in said
    assert server.process.exitcode == 0
    assert check(Store(path)) == []
    assert [file.name for file in path.parent.iterdir() if file.suffix != ".log"] == [path.name]


def test_live_demo_of_an_earlier_run_is_served_and_stopped(demo: Store) -> None:
    codes = dict(zip(artificial.ATHLETES, list_athletes(demo)["athlete"], strict=False))
    for measure in ("jump_height", "throw_speed"):
        keep_fit(
            demo,
            "test",
            measure,
            artificial.fit_facts(demo.revision()),
            artificial.responses().replace({"athlete": codes}),
            artificial.kept_curves().replace({"athlete": codes}),
            pd.DataFrame({"session_id": [], "peak_value": []}),
            Conclusions(findings=artificial.nothing_found()),
        )
    with serving(demo.path, command="demo") as server, server.client() as client:
        assert "invented squad" in client.get("/signin").text
        assert post_form(client, {"sample": "director"}).status_code == 303
        exported = client.get("/download/export/responses.csv?measure=jump_height")
        assert exported.text.count("\n") == 1 + len(codes)
    said = server.log.read_text()
    assert f"The dashboard is at {server.address}" in said
    assert said.endswith("Stopped.\n")
    assert "Traceback" not in said
    assert server.process.exitcode == 0
