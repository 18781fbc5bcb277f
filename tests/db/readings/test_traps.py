"""Misleading files: each is asked about or left unread, never guessed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from db.errors import BadInput
from db.file.store import Store
from db.imports.storing import check_rows
from db.readings.any_file import open_file, read_any, rows_by
from db.readings.readings import LIKELY, Reading
from tests.benchmarks.any_file import squad_store

NAMES = "Anna Berg", "Bo Lindqvist", "Liam O'Connor"


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return squad_store(tmp_path_factory.mktemp("squad") / "squad.duckdb")


def read(
    store: Store, text: str, answers: Mapping[str, str] | None = None, name: str = "rows.csv"
) -> Reading:
    said = {"kind": "fade", "clock": "09:00"} | dict(answers or {})
    return read_any(store, open_file(text.encode(), name), said)


def asked(reading: Reading) -> list[str]:
    return [question.key for question in reading.open_questions]


def values(store: Store, text: str, answers: Mapping[str, str] | None = None) -> list[float]:
    laid = open_file(text.encode(), "rows.csv")
    reading = read_any(store, laid, {"kind": "fade", "clock": "09:00"} | dict(answers or {}))
    new = check_rows(store, rows_by(store, laid, reading)).new
    return [round(float(value), 2) for value in new["value"]]


@pytest.mark.parametrize("header", ["Time of day", "Heure du jour", "Uhrzeit"])
def test_a_time_of_day_is_no_date(squad: Store, header: str) -> None:
    text = f"Name,Date,{header},Rep,Jump (cm)\nAnna Berg,2025-03-13,10:15,1,38.4\n"
    reading = read(squad, text)
    assert reading.mapping is not None
    assert reading.mapping.sources["clock"].column == header.casefold()


@pytest.mark.parametrize("header", ["Time Date", "Date and time", "Datum Uhrzeit"])
def test_a_date_with_its_time_is_a_date(squad: Store, header: str) -> None:
    reading = read(squad, f"Name,{header},Rep,Jump (cm)\nAnna Berg,2025-03-13 10:15,1,38.4\n")
    assert reading.mapping is not None
    assert reading.mapping.sources["started_at"].column == header.casefold()


@pytest.mark.parametrize(
    ("text", "lacking"),
    [
        ("Date,Jump (cm)\n2025-03-13,38.4\n", "says who it was"),
        ("Name,Date,Jump (cm)\nAnna Berg,2025-03-13,n/a\n", "has numbers that can be values"),
        ("Name\nAnna Berg\n", "has numbers that can be values"),
    ],
)
def test_a_file_without_athletes_or_values_is_refused(
    squad: Store, text: str, lacking: str
) -> None:
    with pytest.raises(BadInput, match=f"No column of the file rows.csv {lacking}"):
        read(squad, text)


def test_a_column_is_the_values_once_that_is_said(squad: Store) -> None:
    text = "Name,Date,Rep\nAnna Berg,2025-03-13,1\nAnna Berg,2025-03-13,2\n"
    assert "value_column" in asked(read(squad, text))
    answers = {"value_column": "rep", "measure:rep": "jump_height", "unit:rep": "cm"}
    reading = read(squad, text, answers)
    assert [each.answer for each in reading.questions if each.key == "value_column"] == ["rep"]
    assert reading.mapping is not None and reading.mapping.sources["value"].column == "rep"


def test_two_tests_of_one_measure_are_asked_about(squad: Store) -> None:
    text = "Name,Date,CMJ (cm),SJ (cm)\nAnna Berg,2025-03-13,38.4,35.0\n"
    assert asked(read(squad, text)) == ["measure:cmj (cm)", "measure:sj (cm)"]
    answers = {"measure:cmj (cm)": "jump_height", "measure:sj (cm)": "not read"}
    assert values(squad, text, answers) == [38.4]


def test_left_and_right_are_not_efforts_of_one_test(squad: Store) -> None:
    reading = read(squad, "Name,Date,Left jump (cm),Right jump (cm)\nAnna Berg,2025-03-13,20,21\n")
    assert reading.mapping is None


def test_the_best_of_a_session_is_asked_about(squad: Store) -> None:
    reading = read(squad, "Name,Date,Best jump (cm)\nAnna Berg,2025-03-13,38.4\n")
    assert asked(reading) == ["measure:best jump (cm)"]


@pytest.mark.parametrize("column", ["Age", "Body mass (kg)", "Shoe size", "Broad jump (cm)"])
def test_columns_that_are_not_measures_are_not_read_as_one(squad: Store, column: str) -> None:
    reading = read(squad, f"Name,Date,{column}\nAnna Berg,2025-03-13,41\n", name="jump tests.csv")
    assert reading.mapping is None


def test_numbers_of_rows_and_shirts_are_not_efforts(squad: Store) -> None:
    rows = "\n".join(f"{no},{name},2025-03-13,4{no}" for no, name in enumerate(NAMES, 1))
    reading = read(squad, f"No,Name,Date,Jump (cm)\n{rows}\n")
    assert reading.mapping is not None and reading.mapping.counted
    assert "`No` is not read." in [each.sentence for each in reading.columns]


def test_a_time_on_every_effort_does_not_make_each_a_session(squad: Store) -> None:
    lines = [f"Anna Berg,2025-03-13 10:0{minute}:00,3{minute}.5" for minute in range(4)]
    text = "\n".join(["Name,Time,Jump (cm)", *lines, "Anna Berg,2025-03-13 17:00,33", ""])
    text = text.replace("Name,Time", "Name,Timestamp")
    assert asked(read(squad, text)) == ["sessions"]
    laid = open_file(text.encode(), "rows.csv")
    reading = read_any(squad, laid, {"kind": "fade", "sessions": "one"})
    new = check_rows(squad, rows_by(squad, laid, reading)).new
    assert new["effort"].tolist() == [1, 2, 3, 4, 1]
    assert new["started_at"].dt.hour.tolist() == [10, 10, 10, 10, 17]


def test_the_unit_in_the_name_of_a_measure_counts(squad: Store) -> None:
    text = "Name,Date,Test,Result\nAnna Berg,2025-03-13,Jump height (in),15\n"
    assert values(squad, text) == [38.1]


def test_a_missing_unit_of_a_measure_in_a_row_is_asked_about(squad: Store) -> None:
    text = "Name,Date,Test,Result\nAnna Berg,2025-03-13,Jump height,22\n"
    assert asked(read(squad, text)) == ["unit:jump height"]
    assert values(squad, text, {"unit:jump height": "in"}) == [55.88]


def test_a_unit_that_the_values_cannot_be_in_is_asked_about(squad: Store) -> None:
    reading = read(squad, "Name,Date,Rep,Jump (cm)\nAnna Berg,2025-03-13,1,0.384\n")
    assert asked(reading) == ["unit:jump (cm)"]


def test_the_word_in_in_a_title_is_not_an_inch(squad: Store) -> None:
    text = "Name,Date,Rep,Result\nAnna Berg,2025-03-13,1,38.4\n"
    reading = read(squad, text, name="jump height in spring.csv")
    assert reading.mapping is not None
    [value] = [each for each in reading.columns if each.meaning == "value"]
    assert (value.unit, value.sure) == ("cm", LIKELY)


def test_codes_and_names_that_contradict_each_other_are_asked_about(squad: Store) -> None:
    text = "ID,Name,Date,Rep,Jump (cm)\nA2,Anna Berg,2025-03-13,1,38.4\n"
    assert asked(read(squad, text)) == ["athlete_column"]


def test_a_namesake_is_asked_about(tmp_path: Path) -> None:
    from pandas import DataFrame

    from db.roster.athletes import save_athletes

    store = squad_store(tmp_path / "two.duckdb")
    save_athletes(store, DataFrame({"athlete": ["A9"], "name": ["Berg Anna"]}, dtype=str), "test")
    reading = read(store, "Name,Date,Rep,Jump (cm)\nAnna Berg,2025-03-13,1,38.4\n")
    [question] = reading.open_questions
    assert question.key == "athlete:Anna Berg"
    assert {choice.value for choice in question.choices[:2]} == {"A1", "A9"}


def test_empty_names_without_effort_numbers_are_asked_about(squad: Store) -> None:
    text = "Name,Date,Jump (cm)\nAnna Berg,2025-03-13,38.4\n,2025-03-13,39\n"
    assert asked(read(squad, text)) == ["empty"]
    assert values(squad, text, {"empty": "none"}) == [38.4]
    assert values(squad, text, {"empty": "above"}) == [38.4, 39.0]


def test_a_body_height_or_a_broad_jump_is_not_a_jump_in_millimetres(squad: Store) -> None:
    body = "Name,Date,Height,Weight\nAnna Berg,2025-03-13,180,71\n"
    assert asked(read(squad, body)) == ["measure:height"]
    broad = "Name,Date,Rep,Jump\nAnna Berg,2025-03-13,1,215\n"
    assert asked(read(squad, broad)) == ["unit:jump"]


def test_a_warm_up_in_minutes_is_not_a_volume(squad: Store) -> None:
    text = "Name,Date,Rep,Jump (cm),Warm-up (min)\nAnna Berg,2025-03-13,1,38.4,15\n"
    reading = read(squad, text)
    assert reading.mapping is not None and "volume_before" not in reading.mapping.sources


def test_a_warm_up_without_a_unit_is_asked_about(squad: Store) -> None:
    text = "Name,Date,Rep,Jump (cm),Warm-up\nAnna Berg,2025-03-13,1,38.4,15\n"
    assert asked(read(squad, text)) == ["column:warm-up"]
    reading = read(squad, text, {"column:warm-up": "general_minutes"})
    assert reading.mapping is not None
    assert reading.mapping.sources["general_minutes"].column == "warm-up"


def test_texts_with_decimal_commas_among_whole_numbers_of_a_workbook(squad: Store) -> None:
    from tests.layouts.layout import book

    head = ["Name", "Date", "Test", "Result"]
    lines = [
        ["A1", "2025-03-13", "Jump height (cm)", "38,4"],
        *[["A2", "2025-03-13", "10 m sprint (ms)", 1900 + more] for more in range(3)],
    ]
    laid = open_file(book({"S": [head, *lines]}), "rows.xlsx")
    reading = read_any(squad, laid, {"kind": "fade", "clock": "09:00"})
    new = check_rows(squad, rows_by(squad, laid, reading)).new
    assert new["value"].round(3).tolist() == [38.4, 1.9, 1.901, 1.902]


def test_a_date_of_birth_is_not_the_day_of_the_session(squad: Store) -> None:
    text = "Name,Born,Rep,Jump (cm)\nAnna Berg,2001-05-31,1,38.4\n"
    assert asked(read(squad, text)) == ["day"]
    assert values(squad, text, {"day": "2025-03-13"}) == [38.4]


def test_slips_in_a_short_file_do_not_spoil_its_days_or_values(squad: Store) -> None:
    """An impossible day and a value without its decimal mark are set aside with their reasons."""
    rows = [
        ("Anna Berg", "29.11.2025", "18:05", 1, "38,4"),
        ("Anna Berg", "29.11.2025", "18:05", 2, "384"),
        ("Bo Lindqvist", "29.11.2025", "18:10", 1, "41,0"),
        ("Bo Lindqvist", "31.11.2025", "18:10", 2, "41,4"),
        ("Bo Lindqvist", "29.11.2025", "18:10", 3, "40,7"),
        ("Liam O'Connor", "29.11.2025", "18:20", 1, "35,2"),
        ("Liam O'Connor", "29.11.2025", "18:20", 2, "n/a"),
    ]
    lines = [";".join(map(str, row)) for row in rows]
    text = "\n".join(["Name;Datum;Zeit;Versuch;CMJ (cm)", *lines])
    assert values(squad, text) == [38.4, 41.0, 40.7, 35.2]
