"""The commands `warmcurve privacy ...`."""

from __future__ import annotations

import json
import zipfile
from datetime import date
from pathlib import Path

from dashboard.club.privacy_words import TOLD_PLACES
from dashboard.club.scheduled_backups import Schedule, set_schedule
from db.backup.copying import backup
from db.file.store import Store
from db.plans.lengths import PlanEntry, save_choice
from db.privacy.identity import text_columns
from db.privacy.mentions import AS_ONE, NO_TEXTS, SET_ASIDE
from db.privacy.retention import kept_days
from db.roster.athletes import list_athletes
from tests.dashboard.app.test_command_line import run


def test_what_is_held_about_an_athlete_is_handed_over_as_a_zip(
    filled_store: Store, tmp_path: Path
) -> None:
    file = tmp_path / "theirs.zip"
    done = run("privacy", "export", "A1", file, "--db", filled_store.path)
    assert (done.exit_code, done.stdout) == (0, f"{file}\n")
    with zipfile.ZipFile(file) as archive:
        assert {"README.txt", "session.csv", "effort.csv"} <= set(archive.namelist())
    again = run("privacy", "export", "A1", file, "--db", filled_store.path)
    assert again.exit_code == 1 and "already. Name another one." in again.stderr


def test_erasing_shows_what_goes_and_needs_yes(filled_store: Store) -> None:
    shown = run("privacy", "erase", "A1", "--db", filled_store.path)
    assert shown.exit_code == 1
    assert "Saved: 5 sessions, 60 efforts" in shown.stdout
    assert "Repeat the command with --yes" in shown.stderr
    assert "A1" in list_athletes(filled_store)["athlete"].tolist()
    done = run("privacy", "erase", "A1", "--yes", "--db", filled_store.path)
    assert done.exit_code == 0
    assert "The store's file was written anew" in done.stdout
    assert "Older backups still hold the athlete" in done.stdout
    assert "A1" not in list_athletes(filled_store)["athlete"].tolist()
    unknown = run("privacy", "erase", "A1", "--yes", "--db", filled_store.path)
    assert unknown.exit_code == 1
    assert "There is no athlete with the code 'A1'" in unknown.stderr


def _reasons(store: Store) -> list[str]:
    with store.reading() as cursor:
        rows = cursor.execute("SELECT reason FROM plan WHERE athlete = 'A2' ORDER BY 1").fetchall()
    return [reason for (reason,) in rows]


def test_texts_about_others_are_shown_and_cleared_only_if_named(filled_store: Store) -> None:
    for day, reason in ((3, "one more"), (4, "as Long said")):
        plan = PlanEntry(date(2026, 3, day), "A2", "jump_height", "best", 1, 30, 15, 12, reason)
        save_choice(filled_store, plan, "dora")
    erase = ("privacy", "erase", "A1", "--db", filled_store.path)
    shown = run(*erase).stdout
    assert "2 texts about others may mention A1." in shown
    (line,) = [line for line in shown.splitlines() if "'one more'" in line]
    key = line.split()[0]
    assert "reason for a length of A2: 'one more' (one)" in line
    told = json.loads(run(*erase, "--json").stdout)
    assert [text["text"] for text in told["texts"]] == ["as Long said", "one more"]
    assert (told["code"], told["copies"], told["unfinished_copies"]) == ("A1", [], [])
    undecided = run(*erase, "--yes")
    assert undecided.exit_code == 1
    assert "that may mention A1: 2. Nothing was erased." in undecided.stderr
    both = run(*erase, "--yes", "--keep-all", "--clear", key)
    assert both.exit_code == 1 and "exclude each other" in both.stderr
    unknown = run(*erase, "--yes", "--clear", "no-such")
    assert unknown.exit_code == 1 and "has the key no-such" in unknown.stderr
    assert _reasons(filled_store) == ["as Long said", "one more"]
    done = run(*erase, "--yes", "--clear", key, "--json")
    assert json.loads(done.stdout)["texts_cleared"] == 1
    assert _reasons(filled_store) == ["(cleared)", "as Long said"]


def test_every_place_that_may_hold_such_a_text_has_a_plain_name(empty_store: Store) -> None:
    with empty_store.reading() as cursor:
        columns = {
            (table, column)
            for table, column in text_columns(cursor)
            if column not in NO_TEXTS and table != SET_ASIDE
        }
    assert columns | {(SET_ASIDE, AS_ONE)} == set(TOLD_PLACES)


def test_old_backups_of_the_schedule_are_named(filled_store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    made = backup(filled_store, folder).folder
    set_schedule(filled_store, Schedule(str(folder), 24, 7), "dora")
    shown = run("privacy", "erase", "A1", "--db", filled_store.path)
    assert f"We know of these: {made}." in shown.stdout
    folder.rename(tmp_path / "taken away")
    shown = run("privacy", "erase", "A1", "--db", filled_store.path)
    assert f"Some are in {folder}, which cannot be reached now" in shown.stdout


def test_retention_times_are_listed_set_and_applied(filled_store: Store) -> None:
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
