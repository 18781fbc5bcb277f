"""Every command on the demo squad, in every format it writes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pypdfium2
import pytest
from typer.testing import CliRunner, Result

from dashboard.app.command_line import application
from dashboard.core.cautions import CAUTION
from db.file.copies import backups_in
from db.file.store import Store
from db.fits.export_names import EXPORTS, ExportName
from db.fits.results import latest_fit
from tests.dashboard.app.test_commands_nobody_in import COMMANDS
from tests.dashboard.conftest import copied

RUN_ELSEWHERE = {
    **dict.fromkeys(("demo", "serve", "fit", "protocol", "test-days"), "test_command_line"),
    **dict.fromkeys(("learned export", "learned pool"), "test_learned_commands"),
    "overview": "test_overview_command",
    "upgrade": "test_upgrades",
}
ADVISE = ("advise", "--athlete", "H01", "--measure", "jump_height")
MAY_BE_EMPTY = {
    "efforts": {
        *("days_since_game", "effort_rest_seconds", "load_kg", "planned_volume"),
        *("freshness", "joints", "mobility"),
    },
    "next-tests": {"game_day"},
}


@pytest.fixture
def served(demo_once: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Store]:
    """Run commands on a copy of the demo's store, in its own folder; it stays open between them."""
    store = copied(demo_once, tmp_path)
    monkeypatch.setenv("WARMCURVE_DB", str(store.path))
    monkeypatch.chdir(tmp_path)
    with store.kept_open():
        yield store


def run(*words: object, status: int = 0, typed: str | None = None) -> Result:
    """Run a command, and check its exit status and that nothing looks like a fault."""
    shown = CliRunner().invoke(application, [str(word) for word in words], input=typed)
    assert shown.exit_code == status, shown.output
    assert "Fault" not in shown.stderr and "Traceback" not in shown.stderr
    assert not re.search(r"\bnan\b|\bNone\b|\bNaT\b|<NA>", shown.output), shown.output
    return shown


@pytest.mark.parametrize("what", EXPORTS)
def test_every_export_holds_the_same_in_both_kinds_of_file(served: Store, what: ExportName) -> None:
    said = run("export", what, "rows.csv").stdout
    run("export", what, "rows.PARQUET")
    table, parquet = pd.read_csv("rows.csv"), pd.read_parquet("rows.PARQUET")
    assert said == f"rows.csv: {len(table)} rows of {what}.\n"
    assert list(table) == list(parquet) and len(table) == len(parquet) > 0
    assert parquet.columns.is_unique
    empty = set(table.columns[table.isna().all()])
    assert empty <= MAY_BE_EMPTY.get(what, set())
    run("export", what, "one.csv", "--measure", "jump_height")
    one = pd.read_csv("one.csv")
    assert set(one["measure"]) == {"jump_height"}
    assert len(one) == (table["measure"] == "jump_height").sum()


@pytest.mark.parametrize("goal", ["best", "sustained", "growth"])
@pytest.mark.parametrize("day", [(), ("--rest", "12", "--at", "09:05", "--limit", "9")])
def test_advice_says_the_same_in_words_and_in_json(
    served: Store, goal: str, day: tuple[str, ...]
) -> None:
    words = (*ADVISE, "--goal", goal, "--efforts", 1 if goal == "best" else 12, *day)
    found = json.loads(run(*words, "--json").stdout, parse_constant=pytest.fail)
    told = run(*words).stdout.splitlines()
    assert told[0].startswith(f"Jorun Ask-Valle (H01), jump height: {found['volume']:g} efforts")
    instead = [line for line in told if line.startswith("Instead ")]
    assert len(instead) == len(found["alternatives"]) > 0
    assert told[-1] == CAUTION
    assert ("at 9:05, in" in told[1]) == bool(day)


def test_a_sheet_comes_with_its_table_and_calendars(served: Store) -> None:
    words = ("sheet", "--date", "2026-12-01", "--start", "19:30", "--measure", "jump_height")
    said = run(*words, "--out", "s.PDF", "--csv", "s.csv", "--ics", "calendars")
    assert said.stdout == "s.PDF: 25 athletes, start 19:30.\n"
    assert len(pypdfium2.PdfDocument("s.PDF")) >= 1
    table = pd.read_csv("s.csv")
    assert len(table) == 25 and set(table.columns[table.isna().all()]) <= {"reason", "role"}
    calendars = list(Path("calendars").iterdir())
    assert len(calendars) == 26
    assert all(file.read_text().startswith("BEGIN:VCALENDAR") for file in calendars)


def test_files_are_imported_after_a_dry_run(served: Store) -> None:
    run("export", "efforts", "efforts.csv", "--measure", "throw_speed")
    run("export", "efforts", "efforts.parquet", "--measure", "throw_speed")
    for file in ("efforts.csv", "efforts.parquet"):
        read = run("import", file, "--dry-run").stdout
        assert re.fullmatch(rf"{file}: ([\d,]+) rows read = 0 to store \+ \1 known \+ 0 .*\n", read)
        assert run("import", file).stdout == read.replace("to store", "stored")
    Path("more.csv").write_text(
        "athlete,started_at,measure,effort,value\nH99,2026-11-01T09:00,jump_height,1,40\n"
    )
    assert "athlete H99 is not known" in run("import", "more.csv", "--dry-run", status=3).stderr
    Path("athletes.csv").write_text("athlete,name\nH01,Jorun Ask-Valle\n")
    assert run("athletes", "athletes.csv").stdout == (
        "athletes.csv: 0 added, 0 updated, 1 unchanged.\n"
    )


def test_what_is_held_is_listed_and_handed_over(served: Store) -> None:
    assert run("check").stdout == ""
    listed = run("measure").stdout.splitlines()
    assert len(listed) == 4
    assert run("measure", "jump_height").stdout.splitlines()[0] in listed
    assert run("measure", "jump_height", "--standard-volume", "15").stdout.startswith("jump_height")
    run("privacy", "export", "H01", "all.zip")
    plain = run("privacy", "erase", "H01", status=1).stdout
    assert plain.startswith("H01, ")
    assert json.loads(run("privacy", "erase", "H01", "--json", status=1).stdout)
    assert len(run("privacy", "keep").stdout.splitlines()) == 4
    assert run("privacy", "keep", "set-aside", "400").stdout.endswith("kept for 400 days\n")
    assert run("privacy", "apply").stdout.count(": 0\n") == 4
    run("privacy", "apply", "--yes")


def test_a_season_is_simulated_with_the_noise_of_the_curves_in_words_and_in_json(
    served: Store,
) -> None:
    few = ("--athletes", 3, "--sessions", 2, "--squads", 5)
    run("simulate", *few, "--tests", 0, "--sessions", 0, status=2)
    words = ("simulate", *few, "--measure", "jump_height")
    found = json.loads(run(*words, "--json").stdout, parse_constant=pytest.fail)
    fit = latest_fit(served, "jump_height")
    assert fit is not None
    assert found["noise"]["effort"] == pytest.approx(fit.effort_noise_pct / 100.0)
    assert found["noise"]["day"] == pytest.approx(fit.day_noise_pct / 100.0)
    assert found["worthwhile_pct"] == fit.worthwhile_pct
    assert found["lost_pct"]["count"] == found["width"]["count"] == 15
    assert found["protocol"]["standard"] == fit.standard_volume
    assert found["spread"]["best_log_sd"] == fit.spread_log_sd
    tidy = json.loads(run(*words, "--tidy", "--json").stdout, parse_constant=pytest.fail)
    assert tidy["width"]["count"] == 12, "in one of five squads length has no effect"
    told = run(*words).stdout
    assert told.startswith("3 athletes, each with 1 fade test and 2 routine sessions. ")
    lost = found["lost_pct"]
    row = r"Lost at the advised volume +{value:.2f} % +{low:.2f} to {high:.2f} +15 athletes\n"
    assert re.search(row.format(**lost), told)
    assert (
        "out and give --effort-noise" in run("simulate", "--measure", "sprint_10m", status=1).stderr
    )
    assert "with --measure. There are" in run("simulate", "--db", served.path, status=1).stderr


def test_accounts_are_made_changed_and_listed(served: Store) -> None:
    password = run("person", "add", "yara", "--role", "coach", "--generate").stdout
    assert re.fullmatch(r"\S{12,}\n", password)
    run("person", "role", "yara", "coach", "--all-athletes")
    run("person", "email", "yara", "yara@club.example")
    run("person", "password", "yara", typed="another plain one\n")
    run("person", "deactivate", "yara")
    run("person", "activate", "yara")
    assert "yara: yara, coach, sees all athletes" in run("person", "list").stdout


def test_a_status_blocks_advice_until_it_is_lifted(served: Store) -> None:
    assert run("status").stdout == "Nobody is out or modified.\n"
    run("status", "H01", "modified", status=1)
    assert run("status", "H01", "out", "--since", "2026-11-20").stdout.startswith("Jorun Ask-Valle")
    assert "2026-11-20 out, said by" in run("status", "H01").stdout
    assert "no test and no length until staff" in run(*ADVISE, status=1).output
    run("status", "H01", "fit")
    run(*ADVISE)


@pytest.mark.parametrize("more", [(), ("--encrypt",)])
def test_a_backup_can_be_restored(
    served: Store, more: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WARMCURVE_BACKUP_PASSPHRASE", "plain words for a test")
    copy = run("backup", "copies", *more).stdout.strip()
    [(_, path)] = backups_in("copies")
    assert Path(copy).resolve() == path.resolve()
    assert run("restore", copy, "--db", "again.duckdb").stdout.endswith("again.duckdb\n")
    assert run("check", "--db", "again.duckdb").stderr == "No faults found.\n"
    assert "No backups are scheduled" in run("backup").stderr


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_run_here_or_elsewhere(name: str) -> None:
    elsewhere = RUN_ELSEWHERE.get(name, "test_demo_commands")
    [module] = Path(__file__).parents[2].rglob(f"{elsewhere}.py")
    words = ", ".join(f'"{word}"' for word in name.split())
    assert re.search(rf"[(=\[]\s*{words}[,)]", module.read_text(encoding="utf-8")), name
