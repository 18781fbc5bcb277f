"""The folder whose files are imported automatically."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard.inbox import folder, page_words, watching
from dashboard.inbox.folder import ASIDE, DONE, handled, prepare
from dashboard.inbox.watching import Inbox
from db.efforts.rows import data_summary
from db.errors import BadInput
from db.file.store import Store
from db.imports.past_imports import import_batches
from db.readings.any_file import open_file, read_any, store_any
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.live_server import serving

OWN = (
    b"athlete,started_at,measure,effort,value,kind\n"
    b"A1,2026-05-01T10:00,jump_height,1,44,fade\nA1,2026-05-01T10:00,jump_height,2,45,fade\n"
)
OTHER = b"Player,Date,Jump (cm),Rep#\nLong One,2026-06-01,44,1\nLong One,2026-06-01,45,2\n"
LATER = OTHER.replace(b"2026-06-01", b"2026-06-08")
ANSWERS = {"clock": "10:00", "kind": "fade"}


class Watched:
    """An inbox, and what it said."""

    def __init__(self, store: Store, at: Path) -> None:
        prepare(at)
        self.said: list[str] = []
        self.at = at
        self.inbox = Inbox(at, store, self.said.append, still_seconds=0.0)

    def put(self, name: str, content: bytes) -> Path:
        path = self.at / name
        path.write_bytes(content)
        return path

    def look(self) -> None:
        """Look twice, so that a file that was there at first has lain still."""
        self.inbox.look()
        self.inbox.look()

    def names(self, where: str = "") -> list[str]:
        return sorted(path.name for path in (self.at / where).iterdir() if path.is_file())


@pytest.fixture
def watched(filled_store: Store, tmp_path: Path) -> Watched:
    return Watched(filled_store, tmp_path / "inbox")


def efforts(store: Store) -> int:
    return int(data_summary(store)["efforts"].sum())


def read_once(store: Store) -> None:
    laid = open_file(OTHER, "once.csv")
    reading = read_any(store, laid)
    answers = {each.key: ANSWERS[each.key] for each in reading.open_questions}
    store_any(store, laid, read_any(store, laid, answers), "dora")


def test_a_file_with_our_columns_is_stored_once_it_is_complete(
    filled_store: Store, watched: Watched
) -> None:
    before = efforts(filled_store)
    path = watched.put("may.csv", OWN[:60])
    watched.inbox.look()
    path.write_bytes(OWN)
    watched.inbox.look()
    assert efforts(filled_store) == before, "It was written to since."
    watched.inbox.look()
    assert efforts(filled_store) == before + 2
    assert watched.names() == [] and watched.names(DONE) == ["may.csv", "may.csv.report.txt"]
    [done] = handled(watched.at, DONE, 10)
    assert done.report == "may.csv: 2 rows read = 2 stored + 0 known + 0 set aside\n"
    assert watched.said == ["A file of the inbox went to done."]


def test_the_same_file_again_stores_nothing_and_keeps_both(
    filled_store: Store, watched: Watched
) -> None:
    for _ in range(2):
        watched.put("may.csv", OWN)
        watched.look()
    before = efforts(filled_store)
    assert watched.names(DONE) == [
        "may-2.csv",
        "may-2.csv.report.txt",
        "may.csv",
        "may.csv.report.txt",
    ]
    assert "0 stored + 2 known" in (watched.at / DONE / "may-2.csv.report.txt").read_text()
    assert efforts(filled_store) == before
    assert (import_batches(filled_store)["file"] == "may.csv").sum() == 1


def test_rows_with_problems_are_reported_beside_the_file(watched: Watched) -> None:
    watched.put("may.csv", OWN + b"A1,2026-05-01T10:00,jump_height,3,nonsense,fade\n")
    watched.look()
    assert watched.names(ASIDE) == ["may.csv", "may.csv.report.txt"]
    report = (watched.at / ASIDE / "may.csv.report.txt").read_text()
    assert "2 stored + 0 known + 1 set aside" in report
    assert "line 4, value: 'nonsense' is not a number" in report


def test_a_far_longer_warm_up_is_reported_beside_the_file(watched: Watched) -> None:
    rows = [
        f"A1,2026-05-{day:02}T10:00,jump_height,1,44,routine,{volume}"
        for day, volume in ((1, 9), (2, 10), (3, 90))
    ]
    header = "athlete,started_at,measure,effort,value,kind,volume_before"
    watched.put("may.csv", "\n".join([header, *rows]).encode())
    watched.look()
    report = (watched.at / DONE / watched.names(DONE)[-1]).read_text()
    assert "A warm-up is more than twice as long as any other" in report and "90" in report


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02\x03", b"PK\x03\x04 no workbook"])
def test_a_file_that_is_no_table_is_set_aside_with_the_reason(
    watched: Watched, content: bytes
) -> None:
    watched.put("strange.xlsx", content)
    watched.look()
    assert watched.names(ASIDE) == ["strange.xlsx", "strange.xlsx.report.txt"]
    report = (watched.at / ASIDE / "strange.xlsx.report.txt").read_text()
    assert report.startswith("Nothing of this file was stored.") and len(report) > 60


def test_an_unknown_layout_waits_until_it_has_been_read_once(
    filled_store: Store, watched: Watched
) -> None:
    before = efforts(filled_store)
    watched.put("june.csv", LATER)
    watched.look()
    assert efforts(filled_store) == before and watched.names() == ["june.csv"]
    [why] = watched.inbox.waiting.values()
    assert why.startswith("This file asks: ")
    watched.look()
    assert watched.said == ["A file waits in the inbox for a person; see the page Inbox."]
    read_once(filled_store)
    watched.look()
    assert watched.names() == [] and watched.names(DONE) == ["june.csv", "june.csv.report.txt"]
    assert efforts(filled_store) == before + 4 and watched.inbox.waiting == {}


def test_a_file_with_an_unknown_name_waits_for_a_person(
    filled_store: Store, watched: Watched
) -> None:
    read_once(filled_store)
    watched.put("june.csv", LATER.replace(b"Long One", b"Somebody New"))
    watched.look()
    [why] = watched.inbox.waiting.values()
    assert "Somebody New" in why


def test_unfinished_and_hidden_files_links_and_folders_are_left_alone(watched: Watched) -> None:
    for name in (".may.csv", "may.csv.part", "~$may.xlsx", "may.crdownload"):
        watched.put(name, OWN)
    (watched.at / "older").mkdir()
    os.symlink(watched.put(".real", OWN), watched.at / "link.csv")
    watched.look()
    assert watched.names(DONE) == watched.names(ASIDE) == [] and watched.said == []


class Killed(BaseException):
    """Stands in for a kill that ends the process at once."""


@pytest.mark.parametrize("step", ["take", "move", "report", "rename"])
def test_a_kill_loses_and_doubles_nothing(
    filled_store: Store, watched: Watched, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    before = efforts(filled_store)
    watched.put("may.csv", OWN)

    def killed(*_: object, **__: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        after: Callable[..., object] = {
            "take": lambda: patch.setattr(watching, "take", killed),
            "move": lambda: patch.setattr(watching, "move", killed),
            "report": lambda: patch.setattr(folder.os, "replace", killed),
            "rename": lambda: patch.setattr(folder, "_free", killed),
        }[step]
        after()
        with pytest.raises(Killed):
            watched.look()
    assert watched.names() == ["may.csv"], "It is still there."
    again = Watched(filled_store, watched.at)
    again.look()
    assert efforts(filled_store) == before + 2
    assert watched.names() == [] and watched.names(DONE) == ["may.csv", "may.csv.report.txt"]
    assert (import_batches(filled_store)["file"] == "may.csv").sum() == 1


def test_a_file_that_is_changed_at_the_last_moment_is_read_again(
    filled_store: Store, watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, path = efforts(filled_store), watched.put("may.csv", OWN)
    more = OWN + b"A1,2026-05-01T10:00,jump_height,3,46,fade\n"
    take = watching.take

    def and_change(store: Store, content: bytes, name: str) -> object:
        taken = take(store, content, name)
        path.write_bytes(more)
        return taken

    with monkeypatch.context() as patch:
        patch.setattr(watching, "take", and_change)
        watched.look()
    assert path.read_bytes() == more and watched.names(DONE) == []
    watched.look()
    assert efforts(filled_store) == before + 3
    assert watched.names(DONE) == ["may.csv", "may.csv.report.txt"]


def test_a_folder_that_cannot_be_used_is_refused_at_once(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(BadInput, match="cannot be used: .* Name a folder"):
        prepare(tmp_path / "file" / "inbox")


def test_the_page_asks_what_a_waiting_file_does_not_show(
    filled_store: Store, sign_in: SignIn, watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watching, "_open", [watched.inbox])
    application = sign_in(filled_store, "carl", "inbox")
    assert "Nothing waits." in told(application)
    watched.put("june.csv", OTHER)
    watched.put("may.csv", OWN)
    watched.look()
    application.run()
    assert "This file asks: " in told(application)
    assert [each.label.split(",")[0] for each in application.expander][-1] == "may.csv"
    assert application.button(key="inbox_save").disabled
    imports = told(sign_in(filled_store, "carl", "import_efforts"))
    assert page_words.waiting_sentence(1) in imports


@pytest.mark.usefixtures("closed_in_between")
def test_serve_watches_the_named_folder(filled_store: Store, tmp_path: Path) -> None:
    inbox = tmp_path / "box"
    with serving(filled_store.path, "--inbox", str(inbox)) as server:
        (inbox / "may.csv").write_bytes(OWN)
        server.until((inbox / DONE / "may.csv").exists)
    assert "went to done" in server.log.read_text()
