"""Readings that are remembered by the header of a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from db.efforts.rows import efforts
from db.file.store import Store
from db.imports.kept_mappings import get_mapping, list_mappings
from db.readings.any_file import open_file, read_any, store_any
from db.readings.readings import REMEMBERED
from tests.benchmarks.any_file import squad_store
from tests.layouts.layout import book

FIRST = "Name,Date,Rep,Jump\nPepe,13/03/2025,1,38.4\nAnna Berg,13/03/2025,1,39\n"
ANSWERS = {"kind": "fade", "clock": "09:00", "athlete:Pepe": "A4"}


@pytest.fixture
def squad(tmp_path: Path) -> Store:
    store = squad_store(tmp_path / "squad.duckdb")
    laid = open_file(FIRST.encode(), "mat.csv")
    store_any(store, laid, read_any(store, laid, ANSWERS), "test")
    return store


def bring(store: Store, text: str, name: str = "later.csv") -> None:
    laid = open_file(text.encode(), name)
    reading = read_any(store, laid)
    assert reading.remembered and reading.name == "mat", reading.open_questions
    assert {each.sure for each in reading.columns if each.meaning} == {REMEMBERED}
    store_any(store, laid, reading, "test")


def test_a_nickname_is_confirmed_only_once_even_after_files_without_it(squad: Store) -> None:
    bring(squad, "Name,Date,Rep,Jump\nAnna Berg,14/03/2025,1,38.5\n")
    bring(squad, "Name,Date,Rep,Jump\nPepe,03/04/2025,1,40\n")
    assert get_mapping(squad, "mat").sources["athlete"].codes["Pepe"] == "A4"
    stored = efforts(squad, "jump_height", "A4")
    assert stored["started_at"].dt.strftime("%d %b").tolist() == ["13 Mar", "03 Apr"]


@pytest.mark.parametrize(
    "row",
    [
        "Anna Berg,03/14/2025,1,38.5",
        # Read as before, the first three would be wrong, and only the last one shows it.
        "\n".join(f"Anna Berg,03/{day}/2025,1,38.5" for day in ("04", "05", "06", "14")),
        "Anna Berg,14/03/2025,1,0.385",
    ],
)
def test_a_different_file_under_the_same_header_is_read_afresh(squad: Store, row: str) -> None:
    reading = read_any(squad, open_file(f"Name,Date,Rep,Jump\n{row}\n".encode(), "x.csv"))
    assert not reading.remembered


def test_a_new_name_is_asked_about_and_nothing_else(squad: Store) -> None:
    text = "Name,Date,Rep,Jump\nNobody Known,14/03/2025,1,38.5\n"
    reading = read_any(squad, open_file(text.encode(), "x.csv"))
    assert [each.key for each in reading.open_questions] == ["athlete:Nobody Known"]


def test_two_sheets_with_the_same_header_are_one_reading(tmp_path: Path) -> None:
    store = squad_store(tmp_path / "two.duckdb")
    head = ["Name", "Date", "Rep", "Jump (cm)"]
    sheets = {
        name: [head, ["Anna Berg", f"2025-03-1{day}", 1, 38.4]]
        for day, name in enumerate(("May", "June"))
    }
    tables = [open_file(book(sheets), "two.xlsx", name) for name in sheets]
    readings = [read_any(store, table, {"kind": "fade", "clock": "09:00"}) for table in tables]
    for table, reading in zip(tables, readings, strict=True):
        store_any(store, table, reading, "test")
    assert list_mappings(store) == ["two"]
    assert len(efforts(store, "jump_height")) == 2


def test_a_header_that_names_athletes_is_not_remembered(tmp_path: Path) -> None:
    store = squad_store(tmp_path / "across.duckdb")
    text = "Date,Rep,Anna Berg,Bo Lindqvist\n2025-03-13,1,38.4,45\n"
    laid = open_file(text.encode(), "jump height cm.csv")
    reading = read_any(store, laid, {"kind": "fade", "clock": "09:00"})
    store_any(store, laid, reading, "test")
    assert len(efforts(store, "jump_height")) == 2
    assert list_mappings(store) == []


def test_the_day_is_asked_of_every_file_that_does_not_say_it(tmp_path: Path) -> None:
    store = squad_store(tmp_path / "squad.duckdb")
    text = "Name,Rep,Jump\nAnna Berg,1,{}\nAnna Berg,2,{}\n"
    for day, asked, values in (
        ("2025-03-13", ["day", "kind"], (38.4, 39.0)),
        ("2025-03-20", ["day"], (40.1, 40.2)),
        ("2025-03-27", ["day"], (41.1, 41.2)),
    ):
        laid = open_file(text.format(*values).encode(), "mat.csv")
        assert [each.key for each in read_any(store, laid).open_questions] == asked
        answers = {"day": day} | ({"kind": "fade", "clock": "09:00"} if "kind" in asked else {})
        store_any(store, laid, read_any(store, laid, answers), "test")
    stored = efforts(store, "jump_height", "A1")
    assert stored["started_at"].dt.day.tolist() == [13, 13, 20, 20, 27, 27]
    assert list_mappings(store) == ["mat"]
