"""The commands `warmcurve privacy ...`."""

from __future__ import annotations

import zipfile
from pathlib import Path

from dashboard.scheduled_backups import Schedule, set_schedule
from db.athletes import list_athletes
from db.backup import backup
from db.retention import kept_days
from db.store import Store
from tests.dashboard.test_command_line import run


def test_one_athlete_is_handed_over_as_a_zip(filled_store: Store, tmp_path: Path) -> None:
    file = tmp_path / "theirs.zip"
    done = run("privacy", "export", "A1", file, "--db", filled_store.path)
    assert (done.exit_code, done.stdout) == (0, f"{file}\n")
    with zipfile.ZipFile(file) as archive:
        assert {"README.txt", "session.csv", "effort.csv"} <= set(archive.namelist())
    again = run("privacy", "export", "A1", file, "--db", filled_store.path)
    assert again.exit_code == 1 and "already. Name another one." in again.stderr


def test_erasing_shows_what_goes_and_does_it_with_yes_only(filled_store: Store) -> None:
    shown = run("privacy", "erase", "A1", "--db", filled_store.path)
    assert shown.exit_code == 1
    assert "Held: 5 sessions, 60 efforts" in shown.stdout
    assert "Repeat the command with --yes" in shown.stderr
    assert "A1" in list_athletes(filled_store)["athlete"].tolist()
    done = run("privacy", "erase", "A1", "--yes", "--db", filled_store.path)
    assert done.exit_code == 0
    assert "The store's file was written anew" in done.stdout
    assert "Backups that were made before still hold the athlete" in done.stdout
    assert "A1" not in list_athletes(filled_store)["athlete"].tolist()
    unknown = run("privacy", "erase", "A1", "--yes", "--db", filled_store.path)
    assert unknown.exit_code == 1
    assert "There is no athlete with the code 'A1'" in unknown.stderr


def test_old_backups_of_the_schedule_are_named(filled_store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    made = backup(filled_store, folder).folder
    set_schedule(filled_store, Schedule(str(folder), 24, 7), "dora")
    shown = run("privacy", "erase", "A1", "--db", filled_store.path)
    assert f"Those known here: {made}." in shown.stdout


def test_times_are_listed_set_and_applied(filled_store: Store) -> None:
    at = ("--db", filled_store.path)
    assert "audit: Who wrote to the store" in run("privacy", "keep", *at).stdout
    done = run("privacy", "keep", "audit", "400", *at)
    assert done.stdout.startswith("audit: ") and done.stdout.endswith("kept for 400 days\n")
    assert run("privacy", "keep", "sessions", "forever", *at).exit_code == 0
    assert kept_days(filled_store)["audit"] == 400
    refused = run("privacy", "keep", "audit", "soon", *at)
    assert refused.exit_code == 1 and "Name the days for audit" in refused.stderr
    shown = run("privacy", "apply", *at)
    assert "web-sessions: 0" in shown.stdout and "Nothing was removed." in shown.stderr
    applied = run("privacy", "apply", "--yes", *at)
    assert applied.exit_code == 0 and "sessions: 0" in applied.stdout
