"""Backups by command and on a schedule."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.club import scheduled_backups
from dashboard.club.known_copies import clear_leftovers, known_copies
from dashboard.club.scheduled_backups import (
    PASSPHRASE,
    Schedule,
    back_up_if_due,
    schedule_of,
    schedule_words,
    set_schedule,
    start_scheduled_backups,
)
from db.errors import BadInput
from db.file.copies import backups_in
from db.file.settings import set_setting
from db.file.store import Store
from db.file.unfinished import PREFIX
from tests.patience import PATIENCE_SECONDS


def told(*words: object, status: int = 0) -> str:
    done = CliRunner().invoke(application, list(map(str, words)))
    assert done.exit_code == status, done.output
    return done.output


def test_a_schedule_is_set_shown_and_ended(empty_store: Store, tmp_path: Path) -> None:
    assert "No backups are scheduled" in told("backup")
    said = told("backup", tmp_path / "backups", "--every", 12, "--keep", 3)
    assert f"Every 12 hours to {tmp_path / 'backups'}" in said
    assert "the newest 3 are kept" in said
    [(made_at, _)] = backups_in(tmp_path / "backups")
    assert f"Last backup: {made_at:%Y-%m-%d %H:%M} UTC" in told("backup")
    assert schedule_of(empty_store) == Schedule(str(tmp_path / "backups"), 12.0, 3)
    assert "No backups are scheduled" in told("backup", "--never")
    assert schedule_of(empty_store) is None


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--every", "2"], "Name the folder for the backups"),
        (["x", "--keep", "2"], "--keep goes with --every HOURS"),
        (["x", "--never"], "takes no folder"),
        (["x", "--every", "0"], "a number of hours above 0"),
        (["x", "--every", "nan"], "a number of hours above 0"),
        (["x", "--every", "1e300"], "up to 87,600, which is ten years"),
        (["x", "--every", "1", "--keep", "-1"], "At least one backup must be kept"),
        (["x", "--every", "1", "--encrypt"], f"{PASSPHRASE} is not set where this runs"),
        (["x", "--encrypt"], f"A passphrase is needed. Set {PASSPHRASE}"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    empty_store: Store,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    sentence: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert sentence in told("backup", *words, status=1)
    assert schedule_of(empty_store) is None
    assert not (tmp_path / "x").exists()


def test_an_encrypted_backup_by_command(
    empty_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PASSPHRASE, "plain words for a test")
    told("backup", tmp_path / "backups", "--encrypt")
    [(_, sealed)] = backups_in(tmp_path / "backups")
    assert sealed.is_file()
    told("restore", sealed, "--db", tmp_path / "new.duckdb")
    assert Store(tmp_path / "new.duckdb").revision() == empty_store.revision()
    monkeypatch.setenv(PASSPHRASE, "other words for a test")
    said = told("restore", sealed, "--db", tmp_path / "newer.duckdb", status=1)
    assert "does not open with this passphrase" in said


def test_a_backup_is_made_when_it_is_due_and_old_ones_go(
    empty_store: Store, tmp_path: Path
) -> None:
    now = datetime.now(UTC)
    assert back_up_if_due(empty_store, now) is None
    set_schedule(empty_store, Schedule(str(tmp_path / "backups"), 6, 2), "dora")
    first = back_up_if_due(empty_store, now)
    assert back_up_if_due(empty_store, now + timedelta(hours=5)) is None
    later = [back_up_if_due(empty_store, datetime.now(UTC) + timedelta(hours=7)) for _ in range(2)]
    assert [path for _, path in backups_in(tmp_path / "backups")] == later[::-1]
    assert first is not None and not first.exists()


def test_a_server_makes_backups_and_reports_a_problem_once(
    empty_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    enough, looks = threading.Event(), threading.Semaphore(0)

    def look(store: Store, now: datetime) -> Path | None:
        looks.release()
        return back_up_if_due(store, now)

    monkeypatch.setattr(scheduled_backups, "back_up_if_due", look)

    def say(sentence: str) -> None:
        said.append(sentence)
        if "Backed up" in sentence:
            enough.set()

    (tmp_path / "backups").write_text("in the way")
    set_schedule(empty_store, Schedule(str(tmp_path / "backups"), 6, 2), "dora")
    stop = start_scheduled_backups(empty_store, say, look_seconds=0.05)
    for _ in range(3):
        assert looks.acquire(timeout=PATIENCE_SECONDS)
    (tmp_path / "backups").unlink()
    assert enough.wait(PATIENCE_SECONDS)
    stop.set()
    assert len(said) == 2
    assert "The scheduled backup could not be made. The backup could not be written" in said[0]
    [(_, path)] = backups_in(tmp_path / "backups")
    assert said[1] == f"Backed up to {path}."


def test_the_start_removes_what_a_killed_process_left(empty_store: Store, tmp_path: Path) -> None:
    """Even if an earlier version, which did not save where it wrote to, set the schedule."""
    folder = tmp_path / "backups"
    set_schedule(empty_store, Schedule(str(folder), 6, 2), "dora")
    own, other = (place / f"{PREFIX}abcd123{n}" for n, place in enumerate((folder, tmp_path)))
    for part in (own, other):
        part.mkdir(parents=True)
        (part / "store.duckdb").write_text("rows of athletes")
    (other / "notes.txt").write_text("mine")
    said: list[str] = []
    clear_leftovers(empty_store, said.append)
    assert not own.exists() and other.exists()
    assert len(said) == 1 and said[0].startswith(f"{other} is left over from a copy or a change")
    assert known_copies(empty_store).unfinished == (other,)


@pytest.mark.parametrize(
    "text",
    ["soon", "[]", '{"folder": 1, "every_hours": "x", "keep": null}', '{"every_hours": 1e999}'],
)
def test_a_schedule_that_cannot_be_read_is_reported(empty_store: Store, text: str) -> None:
    set_setting(empty_store, "backup_schedule", text, "test")
    with pytest.raises(BadInput, match="cannot be read. Set the schedule anew"):
        schedule_words(empty_store)
