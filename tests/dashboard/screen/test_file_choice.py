"""Files that are chosen on a page: their sheets, what is refused, and cancelling."""

from __future__ import annotations

import zipfile
from datetime import datetime, time
from io import BytesIO
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.screen import file_choice
from db.efforts.rows import sessions
from db.file.store import Store
from db.imports import kept_mappings, parsed_rows
from db.imports.effort_files import RawTable
from db.tables.limits import Progress
from tests.dashboard.conftest import SignIn, told
from tests.db import hostile_files
from tests.db.tables.test_excel_files import workbook

COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(1000)


def upload(application: AppTest, content: bytes, name: str) -> AppTest:
    application.file_uploader[0].upload(name, content)
    return application.run()


def open_document() -> bytes:
    content = BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<x/>")
    return content.getvalue()


def test_the_visible_sheets_are_offered(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "import_efforts")
    upload(application, workbook(["May", "June"], hidden=["Lists"], charts_first=True), "x.xlsx")
    assert [each.value for each in application.subheader] == ["x.xlsx, May", "x.xlsx, June"]
    assert "Hidden in the workbook, and not read: Lists." in told(application)
    assert "x.xlsx, sheet May: 1 row read." in told(application)
    assert "x.xlsx, sheet June: 1 row read." in told(application)
    labelled(application, "checkbox", "Leave this one out")[0].check().run()
    assert "x.xlsx, sheet May: 1 row read." not in told(application)
    application.button(key="store_efforts").click().run()
    assert "x.xlsx, sheet June: 1 row read. 1 saved" in told(application)


def test_one_click_saves_every_visible_sheet(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "import_efforts")
    upload(application, workbook(["May", "June"]), "x.xlsx")
    assert application.button(key="store_efforts").label == "Save these 2 tables"
    application.button(key="store_efforts").click().run()
    assert "x.xlsx, sheet May: 1 row read. 1 saved" in told(application)
    assert "x.xlsx, sheet June: 1 row read." in told(application)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("x.csv", b"", "The file x.csv is empty. Save the efforts in it and try again."),
        ("x.xls", COMPOUND, "is a workbook of Excel before 2007. Open it in your spreadsheet"),
        ("x.ods", open_document(), "is an OpenDocument spreadsheet. Open it in your spreadsheet"),
        ("x.numbers", b"PK", "is a Numbers spreadsheet. Open it in your spreadsheet program and"),
        ("x.pdf", b"%PDF", "is of a kind that cannot be read. Save it as CSV or text (.csv, .tsv"),
        ("x.xlsx", COMPOUND + "EncryptedPackage".encode("utf-16-le"), "protected by a password"),
        ("x.xlsx", COMPOUND, "is a workbook of Excel before 2007, though its name ends in .xlsx"),
        ("x.xlsx", open_document(), "cannot be read as Excel. Open it in your spreadsheet program"),
        ("x.csv", open_document(), "is not text, though its name ends in .csv. Give it the endi"),
        ("x.xlsx", hostile_files.two_rows_far_apart(), "has a row with the number 2,000,000,000"),
    ],
)
def test_a_file_that_cannot_be_read_gets_one_sentence(
    filled_store: Store, sign_in: SignIn, name: str, content: bytes, said: str
) -> None:
    application = upload(sign_in(filled_store, "carl", "import_efforts"), content, name)
    assert [said in each.value for each in application.error] == [True]
    assert not application.exception


def test_cancel_ends_the_reading_and_drops_the_file(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page stops where the reading reports its progress, as it does at another click."""
    monkeypatch.setattr(file_choice, "SHOW_AFTER_SECONDS", 0.0)
    with monkeypatch.context() as patch:
        patch.setattr(kept_mappings, "read_text_table", stopped_on_the_way)
        application = upload(sign_in(filled_store, "carl", "import_efforts"), b"a,b", "x.csv")
    assert "rows read" not in told(application)
    application.button(key="import_cancel").click().run()
    assert [each.key for each in application.button if each.key == "import_cancel"] == []
    assert [each.value for each in application.file_uploader] == [[]]


def stopped_on_the_way(content: bytes, name: str, sheet: str, progress: Progress) -> RawTable:
    progress(0.5, "Reading x.csv")
    st.stop()


DATED = b"""athlete,started_at,measure,effort,value,kind
A1,2026-05-01,jump_height,1,40.5,fade
"""
DOUBTFUL = b"""athlete;started_at;measure;effort;value;kind
A1;2026-05-01T10:00;jump_height;1;40,125;fade
"""


def labelled(application: AppTest, kind: str, label: str) -> list[Any]:
    return [each for each in application.get(kind) if each.label == label]


def test_a_time_of_day_is_asked_where_a_file_has_none(filled_store: Store, sign_in: SignIn) -> None:
    label = "Time of day of the rows that have only a date"
    application = upload(sign_in(filled_store, "carl", "import_efforts"), DATED, "x.csv")
    assert "1 to set aside" in told(application)
    labelled(application, "time_input", label)[0].set_value(time(9, 30)).run()
    assert "1 to save, 0 known already, 0 to set aside" in told(application)
    application.button(key="store_efforts").click().run()
    newest = sessions(filled_store, athlete="A1").iloc[0]
    assert newest["started_at"] == datetime(2026, 5, 1, 9, 30)
    assert not labelled(application, "time_input", label)


def test_the_decimal_mark_is_asked_where_nothing_shows_it(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = upload(sign_in(filled_store, "carl", "import_efforts"), DOUBTFUL, "x.csv")
    assert "can be 40.125 or 40125" in application.dataframe[0].value["why"][0]
    labelled(application, "button_group", "Decimal mark")[0].set_value("comma").run()
    assert "1 to save, 0 known already, 0 to set aside" in told(application)
    assert application.dataframe[0].value["value"].tolist() == [40.125]


def test_a_refused_file_still_gets_the_questions_that_could_help(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parsed_rows, "MOST_SET_ASIDE", 0)
    clock = "Time of day of the rows that have only a date"
    application = upload(sign_in(filled_store, "carl", "import_efforts"), DATED, "x.csv")
    assert "More than 0 rows" in application.error[0].value
    labelled(application, "time_input", clock)[0].set_value(time(9, 30)).run()
    assert "1 to save" in told(application) and not application.error
    upload(application, DOUBTFUL, "y.csv")
    assert "More than 0 rows" in application.error[0].value
    labelled(application, "button_group", "Decimal mark")[0].set_value("comma").run()
    assert "1 to save" in told(application) and not application.error


def test_a_complete_file_gets_no_questions(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "import_efforts")
    upload(application, DATED.replace(b"05-01", b"05-01T10:00"), "x.csv")
    assert "1 to save" in told(application)
    assert not application.time_input
    assert not labelled(application, "button_group", "Decimal mark")
