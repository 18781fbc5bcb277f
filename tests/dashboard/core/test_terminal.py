"""Commands broken on purpose: they give a sentence, a number, and the log where there is one."""

from __future__ import annotations

import re
import threading
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.club import daily_retention, scheduled_backups
from dashboard.core import failures, terminal
from dashboard.fits import background_fits, learned_files
from db.file.store import Store
from db.fits import overviews
from tests.dashboard.app.test_commands_nobody_in import COMMANDS, EFFORTS, words_of
from tests.patience import PATIENCE_SECONDS

SECRET = "Name of Somebody"
TOLD = "A fault in warmcurve stopped {}. Everything saved is safe. "


@pytest.fixture(autouse=True)
def nothing_logged_yet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(failures, "_logged_at", {})


def broken(*_: object, **__: object) -> None:
    raise KeyError(SECRET)


def logged(number: str, log: str) -> bool:
    return bool(re.search(rf"(?m)^\d{{4}}-\S+ Fault {number}\nTraceback ", log))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_broken_command_gives_the_fault_number_that_is_in_the_log(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "files.csv").write_text(EFFORTS)
    (tmp_path / "file.csv").write_text("athlete\nZ9\n")
    monkeypatch.setattr(Store, "__init__", broken)
    monkeypatch.setattr(background_fits.FittingProcess, "__init__", broken)
    monkeypatch.setattr(learned_files, "pool_files", broken)
    monkeypatch.setattr(overviews, "club_measures", broken)
    words = words_of(name, tmp_path / "store.duckdb", tmp_path, 1)
    shown = CliRunner().invoke(application, words)
    assert (shown.exit_code, shown.stdout) == (1, "")
    *log, sentence = shown.stderr.splitlines()
    assert sentence.startswith(TOLD.format("this command"))
    found = re.search(r"report fault (\d{6}): the log explains it\.$", sentence)
    assert found and logged(found[1], "\n".join(log))
    assert SECRET not in shown.stderr


def test_nobody_at_a_terminal_sees_a_traceback_unless_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    sentence = terminal.sentences_of(KeyError(SECRET))
    found = re.search(r"report fault (\d{6}): with WARMCURVE_DEBUG=1 set", sentence)
    assert found and SECRET not in sentence
    assert capsys.readouterr().err == ""
    monkeypatch.setenv("WARMCURVE_DEBUG", "1")
    terminal.sentences_of(KeyError(SECRET))
    log = capsys.readouterr().err
    assert f"Fault {found[1]}\n" in log and SECRET in log


def test_the_log_does_not_hold_what_an_error_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    """An error and its cause may both quote a note or a value."""
    try:
        try:
            int(SECRET)
        except ValueError as cause:
            raise KeyError(SECRET) from cause
    except KeyError as error:
        number = failures.log_failure(error)
    log = capsys.readouterr().err
    assert logged(number, log) and SECRET not in log
    assert "ValueError (" in log and "KeyError (" in log


def test_background_work_of_the_server_goes_on_after_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said: list[str] = []
    store, over = Store(tmp_path / "store.duckdb"), threading.Event()
    monkeypatch.setattr(daily_retention, "apply_retention", broken)
    daily_retention.apply_once(store, said.append)
    assert TOLD.format("this") + "It is tried again tomorrow." in said.pop()

    def say(sentence: str) -> None:
        said.append(sentence)
        if len(said) == 2:
            over.set()

    looks = iter([broken, broken])
    monkeypatch.setattr(
        scheduled_backups, "back_up_if_due", lambda *_: next(looks, lambda: tmp_path)()
    )
    stop = scheduled_backups.start_scheduled_backups(store, say, look_seconds=0.0)
    assert over.wait(PATIENCE_SECONDS)
    stop.set()
    assert TOLD.format("it") in said[0]
    assert said[1] == f"Backed up to {tmp_path}."
    assert capsys.readouterr().err.count("Traceback") == 2
